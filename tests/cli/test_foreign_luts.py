"""A LUT that is not ours, wherever a look is taken: preview, check, bake a step, deliver. Held against OpenColorIO."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.lut.formats.cdl import Correction, write_cdl
from lookwright.lut.formats.clf import write_clf
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.formats.hald import write_hald
from lookwright.lut.lattices.lattice import Curves, Lattice, sample
from lookwright.pictures.stills import read

SAID = ("--source", "ACEScct", "--output", "BT.1886")


def _bend(signal: np.ndarray) -> np.ndarray:
    """Something a camera maker's display LUT might do: mixes channels and bends, within 0..1."""
    mixed = signal @ np.array([[0.9, 0.08, 0.02], [0.05, 0.9, 0.05], [0.02, 0.1, 0.88]]).T
    return np.asarray(mixed**1.4)


@pytest.fixture
def luts(tmp_path: Path) -> dict[str, Path]:
    """One of each kind, none with a recipe."""
    cube = sample(_bend, 27)
    curves = Curves(np.linspace(0, 1, 65)[:, None] ** np.array([0.9, 1.0, 1.1]))
    paths = {n: tmp_path / n for n in ("a.cube", "domain.cube", "one-d.cube", "a.clf", "a.png", "a.cc")}
    write_cube(paths["a.cube"], cube)
    write_cube(paths["domain.cube"], Lattice(cube.table, (0.0, -0.1, 0.0), (1.0, 1.0, 0.9)), allow_domain=True)
    rows = "\n".join("{:.6f} {:.6f} {:.6f}".format(*row) for row in curves.table)
    paths["one-d.cube"].write_text(f"LUT_1D_SIZE 65\n{rows}\n")
    write_clf(paths["a.clf"], cube, curves, identity="a")
    write_hald(paths["a.png"], sample(_bend, 25))
    write_cdl(paths["a.cc"], [Correction((1.1, 1.0, 0.9), (0.0, 0.01, -0.02), (1.2, 1.0, 0.9), 0.9, "a")])
    return paths


def _ocio(path: Path, pixels: np.ndarray) -> np.ndarray:
    import PyOpenColorIO as ocio

    ocio.ClearAllCaches()
    transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
    cpu = (
        ocio.Config.CreateRaw()
        .getProcessor(transform)
        .getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
    )
    out = np.ascontiguousarray(pixels, np.float32).copy()
    cpu.apply(ocio.PackedImageDesc(out, out.shape[1], out.shape[0], 3))
    return np.clip(out, 0.0, 1.0)


@pytest.mark.parametrize(
    ("name", "allowed"),
    [
        # The very file: half a 16-bit code and 32-bit arithmetic. tests/oracle/test_foreign_exact.py has every kind.
        ("a.cube", 1e-5),
        ("domain.cube", 1e-5),
        ("one-d.cube", 1e-5),
        ("a.clf", 1e-5),
        ("a.cc", 1e-5),
    ],
)
def test_preview(
    luts: dict[str, Path], stills: Path, tmp_path: Path, lookwright: Any, name: str, allowed: float
) -> None:
    path, out = luts[name], tmp_path / "out"
    arguments = ("--stills", stills / "bench.png", "--out", out, "--format", "png", "--size", 2)
    said = lookwright("preview", path, *SAID, *arguments)
    assert said.code == 0, said.err
    (picture,) = out.glob("*.png")
    theirs = _ocio(path, read(stills / "bench.png").pixels)
    assert np.abs(read(picture).pixels - theirs).max() <= allowed


def test_preview_of_a_hald_clut(luts: dict[str, Path], stills: Path, tmp_path: Path, lookwright: Any) -> None:
    """OpenColorIO reads none; the LUT it was made from stands for it."""
    from lookwright.lut.lattices.interpolate import lookup

    arguments = ("--stills", stills / "bench.png", "--out", tmp_path / "out", "--format", "png")
    assert lookwright("preview", luts["a.png"], *SAID, *arguments).code == 0
    (picture,) = (tmp_path / "out").glob("*.png")
    wanted = lookup(sample(_bend, 25), read(stills / "bench.png").pixels)
    assert np.abs(read(picture).pixels - wanted).max() <= 2.5e-5  # two roundings to 16 bits


def test_pairs_and_check_hold_it_against_the_plain_rendering(
    luts: dict[str, Path], stills: Path, tmp_path: Path, lookwright: Any
) -> None:
    arguments = ("--stills", stills, "--out", tmp_path / "out", "--layout", "pair")
    said = lookwright("preview", luts["a.clf"], *SAID, *arguments)
    assert said.code == 0 and len(list((tmp_path / "out").glob("*.jpg"))) == 2
    said = lookwright("check", luts["a.clf"], *SAID, "--json")
    found = json.loads(said.out)
    assert found["source"] == "ACEScct, ACEScg primaries, full range" and found["findings"]
    assert said.code == (1 if found["worst"] == "fail" else 0)


@pytest.mark.parametrize("command", ["preview", "deliver", "check"])
def test_it_must_be_said_what_it_is_fed(
    luts: dict[str, Path], stills: Path, tmp_path: Path, lookwright: Any, command: str
) -> None:
    rest = () if command == "check" else ("--stills", stills, "--out", tmp_path / "out")
    for given, words in (
        ((), "say so with --source and --output"),
        (("--source", "ACEScct"), "say so with --output"),
        (("--source", "BT.1886", "--output", "ACEScct"), "turns display light back into scene light"),
        (("--source", "ACESct", "--output", "sRGB"), "'ACEScct'"),
        (("--source-range", "legal", "--output", "sRGB"), "need --source"),
    ):
        said = lookwright(command, luts["a.cube"], *given, *rest)
        assert said.code == 2 and words in said.err and said.err.count("\n") == 1, given
    assert not (tmp_path / "out").exists()


def test_deliver_of_a_foreign_lut(
    luts: dict[str, Path], stills: Path, tmp_path: Path, lookwright: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The LUT comes along, and the look that sends its source through it; the display LUT does what the file does."""
    from lookwright.lut.formats.cube import read_cube
    from lookwright.lut.lattices.interpolate import lookup
    from lookwright.present.delivery import build

    monkeypatch.setattr(build, "FINE", 17)
    monkeypatch.setattr(build, "HALD_LEVEL", 3)
    out = tmp_path / "out"
    said = lookwright("deliver", luts["a.cube"], *SAID, "--stills", stills, "--out", out, "--plain-sampling")
    assert said.code == 0, said.err
    assert (out / "a.cube").read_bytes() == luts["a.cube"].read_bytes()
    assert 'file = "a.cube"' in (out / "a.toml").read_text(encoding="utf-8")
    assert "no ASC CDL: no step stands before the rendering" in said.out
    assert not list(out.glob("*-log-*"))
    found = read_cube(out / "a-33.cube").lattice
    assert found is not None
    points = np.random.default_rng(1).random((500, 3))
    assert np.abs(lookup(found, points) - _bend(points)).max() < 5e-3
    assert lookwright("recover", out / "a-33.cube", "--quiet").code == 0


def test_our_own_file_is_previewed_by_its_table(look: Path, stills: Path, tmp_path: Path, lookwright: Any) -> None:
    """It knows its signals; a changed table shows, though the recipe in it is whole."""
    from lookwright.lut.formats.cube import read_cube

    assert lookwright("bake", look, "--size", 17, "--quiet").code == 0
    own = look.with_suffix(".cube")
    file = read_cube(own)
    assert file.lattice is not None
    write_cube(own, Lattice(file.lattice.table * 0.5, comments=file.lattice.comments))
    arguments = ("--stills", stills / "bench.png", "--out", tmp_path / "out", "--format", "png")
    assert lookwright("preview", own, *arguments).code == 0
    (picture,) = (tmp_path / "out").glob("*.png")
    theirs = _ocio(own, read(stills / "bench.png").pixels)
    assert np.abs(read(picture).pixels - theirs).max() <= 1e-5
    said = lookwright("preview", own, "--source", "S-Log3", "--output", "BT.1886", *arguments)
    assert said.code == 2 and "its own recipe says ACEScct" in said.err and "leave --source out" in said.err
    said = lookwright("preview", look, "--output", "BT.1886", *arguments)
    assert said.code == 2 and "--output is for LUT files" in said.err


@pytest.mark.parametrize(("source", "output"), [("BT.1886", "BT.1886"), ("sRGB", "BT.1886"), ("S-Log3", "S-Log3")])
def test_every_kind_of_signal(
    luts: dict[str, Path], stills: Path, tmp_path: Path, lookwright: Any, source: str, output: str
) -> None:
    """Display to display, and log to log, which is shown through the plain rendering."""
    arguments = ("--source", source, "--output", output, "--stills", stills / "bench.png", "--out", tmp_path / "out")
    said = lookwright("preview", luts["a.cube"], *arguments, "--format", "png", "--layout", "graded")
    assert said.code == 0, said.err
    (picture,) = (tmp_path / "out").glob("*.png")
    if source != "S-Log3":
        theirs = _ocio(luts["a.cube"], read(stills / "bench.png").pixels)
        assert np.abs(read(picture).pixels - theirs).max() <= 1e-5
    else:
        assert "shown through the plain rendering" in said.out
