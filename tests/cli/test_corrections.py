"""One correction of an ASC CDL collection, picked by its id wherever a LUT is taken."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.look.recipe.read import read_look
from lookwright.lut.formats.cdl import Correction, cdl_text, pick, read_cdl, write_cdl
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.formats.naming import joined_name, split_name
from lookwright.lut.lattices.lattice import grid
from lookwright.pictures.stills import read

LOG = ("--source", "ACEScct", "--output", "ACEScct")
SHOWN = ("--source", "BT.1886", "--output", "BT.1886")
SHOTS = [
    Correction((1.1, 1.0, 0.9), (0.0, 0.01, -0.02), (1.2, 1.0, 0.9), 0.9, "shot-1"),
    Correction((0.8, 0.9, 1.3), (0.02, 0.0, 0.0), (1.0, 1.0, 1.0), 0.5, "shot-2"),
    Correction((1.0, 1.0, 1.0), (0.0, 0.0, 0.0), (1.0, 1.0, 1.0), 1.0, "shot:3"),
]
RECIPE = """\
title = "Bench"
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "lut"
file = "shots.ccc:{}"
input = {{ encoding = "ACEScct" }}
output = {{ encoding = "ACEScct" }}
[[step]]
kind = "render"
"""


@pytest.fixture
def shots(tmp_path: Path) -> Path:
    path = tmp_path / "shots.ccc"
    write_cdl(path, SHOTS)
    return path


def test_names() -> None:
    for name in ("a.ccc:shot-1", "b/c.CDL:a:b", "C:/x/a.cc:#2", "a.ccc:"):
        assert joined_name(*split_name(name)) == name and split_name(name)[1] is not None
    for name in ("a.cube", "C:/luts/a.clf", "a.ccc", "a:b.cube", "a.cube:b"):
        assert split_name(name) == (name, None)


def test_pick_by_place_where_an_id_does_not_tell(tmp_path: Path) -> None:
    text = cdl_text(SHOTS, ".ccc").replace('id="shot:3"', 'id="shot-1"').replace('id="shot-2"', 'id=""')
    path = tmp_path / "odd.ccc"
    path.write_text(text, encoding="utf-8")
    found = read_cdl(path)
    assert pick(found, "#2", "x") is found[1] and pick(found, "#03", "x") is found[2]
    assert pick(found[:1], None, "x") is found[0] and pick(found[:1], "shot-1", "x") is found[0]
    for wanted, words in (
        (None, "holds 3 corrections; expected one; name one with --correction ID, or as FILE:ID in a look: #1, #2, #3"),
        ("shot-1", "holds the id 'shot-1' 2 times; expected one; name its place: #1 or #3"),
        ("#4", "holds no correction '#4'; it holds #1, #2, #3"),
        ("", "holds no correction ''"),
        ("1", "holds no correction '1'"),  # a bare number is an id, and never a place
    ):
        with pytest.raises(Exception, match="x: ") as caught:
            pick(found, wanted, "x")
        assert words in str(caught.value), wanted
    many = [Correction(id=f"s{i}") for i in range(400)]
    with pytest.raises(Exception, match=r"s22, s23 and 376 more$"):
        pick(many, None, "x")


@pytest.mark.parametrize("suffix", [".ccc", ".cdl"])
@pytest.mark.parametrize("shot", [0, 1])
def test_preview(shots: Path, suffix: str, shot: int, stills: Path, tmp_path: Path, lookwright: Any) -> None:
    path = tmp_path / f"shots{suffix}"
    write_cdl(path, SHOTS)
    arguments = ("--correction", SHOTS[shot].id, "--stills", stills / "bench.png", "--out", tmp_path / "out")
    said = lookwright("preview", path, *SHOWN, *arguments, "--format", "png")
    assert said.code == 0, said.err
    (picture,) = (tmp_path / "out").glob("*.png")
    assert picture.name == f"bench-shots-{SHOTS[shot].id}.png"  # two of one file do not write over each other
    wanted = np.clip(SHOTS[shot](read(stills / "bench.png").pixels), 0, 1)
    assert np.abs(read(picture).pixels - wanted).max() <= 1e-5


@pytest.mark.parametrize("command", ["preview", "check", "measure", "deliver", "clip"])
def test_without_an_id_they_are_listed(
    command: str, shots: Path, stills: Path, look: Path, tmp_path: Path, lookwright: Any
) -> None:
    def run(path: Path, *more: str) -> Any:
        given = {
            "preview": ("preview", path, "--stills", stills, "--out", tmp_path / "out"),
            "check": ("check", path),
            "measure": ("measure", "--look", path, "--stills", stills),
            "deliver": ("deliver", path, "--stills", stills, "--out", tmp_path / "out"),
            "clip": ("clip", path, tmp_path / "none.mp4", "--out", tmp_path / "out.mp4"),
        }[command]
        return lookwright(*given, *more)

    cube = tmp_path / "a.cube"
    cube.write_text("LUT_1D_SIZE 2\n0 0 0\n1 1 1\n")
    for said, words in (
        (run(shots, *LOG), "shots.ccc: holds 3 corrections; expected one; name one with --correction ID"),
        (run(shots, *LOG), ": shot-1, shot-2, shot:3\n"),
        (run(shots, *LOG, "--correction", "shto-2"), "holds no correction 'shto-2'; did you mean 'shot-2'"),
        (run(cube, *LOG, "--correction", "shot-1"), "a.cube holds no corrections to choose from"),
        (run(look, "--correction", "shot-1"), "a look names one as FILE:ID in its step 'lut'"),
        (run(tmp_path / "gone.ccc", *LOG, "--correction", "shot-1"), "gone.ccc: no such file"),
    ):
        assert said.code == 2 and words in said.err and said.err.count("\n") == 1, said
    assert not (tmp_path / "out").exists() and not (tmp_path / "out.mp4").exists()


def test_in_a_recipe(shots: Path, stills: Path, tmp_path: Path, lookwright: Any) -> None:
    look = tmp_path / "bench.toml"
    look.write_text(RECIPE.format("shot:3"), encoding="utf-8")  # changes nothing
    assert lookwright("bake", look, "--size", "9", "--quiet").code == 0
    look.write_text(RECIPE.format("shot-9"), encoding="utf-8")
    said = lookwright("preview", look, "--stills", stills, "--out", tmp_path / "out")
    assert said.code == 2 and said.err.count("\n") == 1
    assert "step 1 'lut'" in said.err and "holds no correction 'shot-9'; did you mean" in said.err
    # The collection is an input: nothing may be written over it.
    look.write_text(RECIPE.format("shot-1"), encoding="utf-8")
    said = lookwright("bake", look, "--size", "9", "--out", shots)
    assert said.code == 2 and "is also read by this command" in said.err


def test_check_and_measure(shots: Path, stills: Path, lookwright: Any) -> None:
    said = lookwright("check", shots, *LOG, "--correction", "shot-2", "--json")
    assert json.loads(said.out)["name"] == "shots.ccc:shot-2"
    levels = {}
    for shot in ("shot-1", "shot:3"):
        said = lookwright("measure", "--look", shots, *SHOWN, "--correction", shot, "--stills", stills, "--json")
        assert said.code == 0, said.err
        levels[shot] = said.out
    assert levels["shot-1"] != levels["shot:3"]
    said = lookwright("measure", "--encoding", "ACEScct", "--correction", "shot-1", "--stills", stills)
    assert said.code == 2 and "are of the LUT that --look names" in said.err


def test_deliver(stills: Path, tmp_path: Path, lookwright: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The collection comes along as it was, though a result would have its name; the recipe names the correction; the
    lattice is that of the file, and its error is told; and a second run may take the place of the first."""
    from lookwright.outputs import Output, check_outputs
    from lookwright.present.delivery import build

    monkeypatch.setattr(build, "COARSE", 9)
    monkeypatch.setattr(build, "FINE", 17)
    monkeypatch.setattr(build, "HALD_LEVEL", 3)
    path, out = tmp_path / "shots.cdl", tmp_path / "out"
    write_cdl(path, SHOTS)
    given = ("--correction", "shot-2", "--name", "shots", "--stills", stills / "bench.png", "--out", out)
    said = lookwright("deliver", path, *SHOWN, *given, "--plain-sampling")
    assert said.code == 0, said.err
    assert (out / "shots.cdl").read_bytes() == path.read_bytes()
    assert 'file = "shots.cdl:shot-2"' in (out / "shots-look.toml").read_text(encoding="utf-8")
    lattice = read_cube(out / "shots-look-9.cube").lattice
    assert lattice is not None
    wanted = np.clip(SHOTS[1](grid(9)), 0, 1)
    assert np.abs(lattice.table - wanted).max() <= 1.1e-5  # light below 1e-12 is none
    card = (out / "CARD.md").read_text(encoding="utf-8")
    assert "natural colours: tetrahedral" in next(line for line in card.splitlines() if "shots-look-9.cube" in line)
    again = build.kinds_of_files(read_look(out / "shots-look.toml"), "shots-look")
    assert again["shots.cdl"] == "cdl"
    check_outputs([path], [Output(out / name, kind) for name, kind in again.items()])
    assert lookwright("deliver", path, *SHOWN, *given[2:], "--plain-sampling").code == 2  # which one is not said
