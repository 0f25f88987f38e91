"""``lookwright undo``: what was graded goes back to log, and what cannot is told."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import read_look
from lookwright.look.steps import registry
from lookwright.lut.fit.prior import draw, natural
from lookwright.lut.fit.threads import in_turn
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.pictures.stills import read, write
from lookwright.solve.undo.fitted import lattice_of
from lookwright.solve.undo.inverse import EXACT, Inverse


def test_an_inverse_is_one() -> None:
    """Of a function with an inverse in closed form; colours that it does not give are marked."""

    def forward(x: np.ndarray) -> np.ndarray:
        mix = np.array([[0.8, 0.15, 0.05], [0.1, 0.8, 0.1], [0.0, 0.2, 0.8]])
        return 0.1 + 0.7 * (x @ mix.T) ** 1.7

    x = np.random.default_rng(1).uniform(0.05, 0.95, (2_000, 3))
    back = Inverse(forward)(forward(x))
    assert back.reached.all() and back.known.all()
    assert np.abs(back.source - x).max() < 2e-5
    outside = Inverse(forward)(np.array([[0.95, 0.5, 0.5], [0.02, 0.3, 0.3], [0.1, 0.8, 0.1]]))
    assert not outside.reached.any() and not outside.known.any()


def test_what_is_pressed_or_clipped_is_not_known() -> None:
    def forward(x: np.ndarray) -> np.ndarray:
        return np.clip(
            np.where(x < 0.5, 0.3 * x / 0.5, 0.3 + (x - 0.5) * 0.01) + np.where(x > 0.8, x - 0.8, 0.0) * 9, 0, 1
        )

    inverse = Inverse(forward)
    flat = inverse(np.full((1, 3), 0.3015))
    assert flat.reached.all() and not flat.known.any()
    assert not inverse(np.ones((1, 3))).known.any()


@pytest.fixture
def graded(tmp_path: Path, look: Path, crop: np.ndarray) -> tuple[Path, np.ndarray]:
    log = crop[::2, ::2]
    made = compile_look(read_look(look))(log.astype(np.float64))
    (tmp_path / "graded").mkdir()
    write(tmp_path / "graded" / "bench.png", made.astype(np.float32), depth="16")
    return tmp_path / "graded", log


def test_a_graded_picture_goes_back_to_log(
    lookwright: Any, tmp_path: Path, look: Path, graded: tuple[Path, np.ndarray]
) -> None:
    folder, log = graded
    out, pictures = tmp_path / "back.cube", tmp_path / "log"
    words = ("undo", look, "--out", out, "--graded", folder, "--pictures", pictures, "--size", 17, "--json")
    said = lookwright(*words)
    assert said.code == 0, said.err
    data = json.loads(said.out)
    made = read(pictures / "bench-undone.png").pixels
    mask = pictures / "bench-undone-mask.png"
    known = read(mask).pixels[..., 0] > 0.5 if mask.exists() else np.ones(made.shape[:2], bool)
    assert data["stills"][0]["share"] == pytest.approx(known.mean()) and known.mean() > 0.6
    # Of 16 bits nothing is lost but a rounding, times the steepest way back.
    assert np.abs(made - log)[known].max() < 50 / 65535 + EXACT
    # The look of it is the graded picture again, wherever a colour gives it.
    again = compile_look(read_look(look))(made.astype(np.float64))
    assert np.abs(again - read(folder / "bench.png").pixels)[known].max() < 2 * EXACT
    # The points of the LUT that can be reached give their own place back.
    lattice = read_cube(out).lattice
    assert lattice is not None
    there = compile_look(read_look(look))(lattice.table.reshape(-1, 3))
    off = np.abs(there - grid(17).reshape(-1, 3)).max(axis=1)
    assert (off < 1.5 * EXACT).mean() > data["nodes"] - 1e-3 and data["nodes"] > 0.3
    assert data["again_mean"] < data["lattice_mean"] and data["again_p99"] < 100
    assert 0.5 < data["natural"] <= 1.0 and data["cube"] < data["natural"]
    assert data["natural"] + data["clipped"] + data["pressed"] + data["double"] == pytest.approx(1.0, abs=0.02)


def test_between_its_points_the_lattice_is_fitted() -> None:
    """Against points that hold the nearest colour there is, on colours that neither has seen; points stay exact."""
    source = Signal.named("ACEScct")
    plain = Look(source={"encoding": "ACEScct"}, output={"encoding": "BT.1886"})
    look = compile_look(plain.model_copy(update={"steps": (registry()["render"](),)}))

    def forward(x: np.ndarray) -> np.ndarray:
        return np.asarray(look(x))

    inverse = Inverse(forward)
    lattice, _ = lattice_of(forward, inverse, source, 17, in_turn)
    again, _ = lattice_of(forward, inverse, source, 17, in_turn)
    assert np.array_equal(lattice.table, again.table)
    back = inverse(grid(17).reshape(-1, 3))
    off = np.abs(lattice.table.reshape(-1, 3) - back.source)[back.known]
    assert off.max() <= 6e-6 and not back.known.all()
    x = draw(natural(source), 3_000, 5)
    y = np.clip(forward(x), 0.0, 1.0)
    known = inverse.inside(y) & (inverse.steepness(x) < 20.0)
    nearest = Lattice(back.source.reshape(17, 17, 17, 3))
    for lookup_as in ("tetrahedral", "trilinear"):
        fitted, plain = (np.abs(lookup(v, y, lookup_as) - x)[known].max(axis=1) for v in (lattice, nearest))
        assert fitted.mean() < 0.6 * plain.mean() and np.percentile(fitted, 99) < 0.7 * np.percentile(plain, 99)


def test_the_words(lookwright: Any, tmp_path: Path, look: Path) -> None:
    said = lookwright("undo", look, "--out", tmp_path / "back.cube", "--size", 5)
    assert said.code == 0 and "of natural colours can be undone" in said.out
    assert "Feed it: BT.1886" in (tmp_path / "back.cube").read_text(encoding="ascii")


def test_wrong_use(lookwright: Any, tmp_path: Path, look: Path) -> None:
    foreign = tmp_path / "theirs.cube"
    from lookwright.lut.formats.cube import write_cube
    from lookwright.lut.lattices.lattice import Lattice

    write_cube(foreign, Lattice(grid(3)))
    for arguments, words in (
        ((look, "--out", tmp_path / "a.clf"), "does not end in .cube"),
        ((look, "--out", tmp_path / "a.cube", "--graded", tmp_path), "belong together"),
        ((look, "--out", tmp_path / "a.cube", "--size", 1), "--size"),
        ((foreign, "--out", tmp_path / "a.cube"), "say so with --source and --output"),
        ((tmp_path / "loook.toml", "--out", tmp_path / "a.cube"), "loook.toml"),
    ):
        said = lookwright("undo", *arguments)
        assert said.code == 2 and words in said.err and said.err.count("\n") == 1, said
        assert not (tmp_path / "a.cube").exists()
