"""``lookwright learn``: what no step explains goes into a small lattice, where it was seen and nowhere else."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look, read_look
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.lattices.lattice import grid
from lookwright.pictures.stills import read, write

RECIPE = """\
title = "Bench by the window"   # mine

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

[[step]]
kind = "exposure"
stops = 0.3

[[step]]
kind = "render"
lock = true

[[step]]
kind = "gamut"
"""


def bend(signal: np.ndarray) -> np.ndarray:
    """A smooth push that no step has: mid tones lose blue and gain red."""
    middle = np.exp(-(((signal.mean(axis=-1) - 0.35) / 0.25) ** 2))
    return np.clip(signal + middle[..., None] * np.array([0.05, 0.0, -0.04]), 0.0, 1.0)


@pytest.fixture
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, crop: np.ndarray) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "look.toml").write_text(RECIPE, encoding="utf-8")
    write(tmp_path / "bench.png", crop, depth="16")
    pixels = bend(compile_look(parse_look(RECIPE))(read(tmp_path / "bench.png").pixels.astype(float)))
    write(tmp_path / "graded.png", pixels.astype(np.float32), depth="16")
    return tmp_path


def test_what_no_step_explains_is_carried_by_a_lattice(lookwright: Any, work: Path) -> None:
    said = lookwright(
        "learn", "look.toml", "--pair", "bench.png", "graded.png", "--out", "new.toml", "--json", "--date", "2026-11-25"
    )
    assert said.code in (0, 1), said.err
    data = json.loads(said.out)
    lattice = data["lattice"]
    # The recipe's only free step cannot say it; the lattice takes most of it away, on pixels it was not fitted to.
    assert lattice["difference_before"] > 0.02 and lattice["difference_after"] < 0.25 * lattice["difference_before"]
    text = (work / "new.toml").read_text(encoding="utf-8")
    assert "# mine" in text and "# 2026-11-25: lattice learnt from 1 pair(s)" in text
    # The written recipe makes the graded frame, all of it, as its figures say.
    made = compile_look(read_look(work / "new.toml"))(read(work / "bench.png").pixels.astype(float))
    left = made - read(work / "graded.png").pixels
    rms = float(np.sqrt(np.mean(np.sum(left**2, axis=-1))))
    # The figures are read trilinearly, as the lattice was fitted; the recipe's step takes it tetrahedrally.
    assert lattice["difference_after"] / 3 < rms < 0.0005 < lattice["difference_before"] / 20
    table = read_cube(work / "new.cube").lattice.table
    moved = np.linalg.norm(table - grid(len(table)), axis=-1)
    # Saturated corners were never in the frame: they stay; and nothing moves further than it was taught.
    assert moved[-1, 0, 0] < 1e-3 and moved[0, -1, 0] < 1e-3 and moved[0, 0, -1] < 1e-3
    assert moved.max() < 1.3 * np.hypot(0.05, 0.04)
    assert read(work / "new-coverage.png").pixels.std() > 0.05


def test_nothing_is_left_to_learn(lookwright: Any, work: Path) -> None:
    pixels = compile_look(parse_look(RECIPE.replace("0.3", "0.5")))(read(work / "bench.png").pixels.astype(float))
    write(work / "plain.png", pixels.astype(np.float32), depth="16")
    said = lookwright("learn", "look.toml", "--pair", "bench.png", "plain.png", "--out", "new.toml")
    assert said.code == 0 and "nothing is left to learn" in said.out
    assert not (work / "new.cube").exists()
    assert read_look(work / "new.toml").steps[0].stops == pytest.approx(0.5, abs=0.02)  # type: ignore[attr-defined]


def refused(lookwright: Any, work: Path, after: str, *words: str) -> None:
    said = lookwright("learn", "look.toml", "--pair", "bench.png", after, "--out", "new.toml", "--no-tune")
    assert said.code == 2 and said.err.count("\n") == 1 and "Traceback" not in said.err, said
    for word in words:
        assert word in said.err
    assert not (work / "new.toml").exists() and not (work / "new.cube").exists()


def test_differences_that_are_no_function_of_colour_are_refused(lookwright: Any, work: Path) -> None:
    pixels = read(work / "graded.png").pixels
    across = np.linspace(0.86, 1.14, pixels.shape[1], dtype=np.float32)[None, :, None]
    write(work / "windowed.png", np.clip(pixels * across, 0.0, 1.0), depth="16")
    refused(lookwright, work, "windowed.png", "more than colour")


def test_what_must_not_be_carried_is_named() -> None:
    """A colour moved too far."""
    from lookwright.solve.learn.residual import fault_of

    assert fault_of(np.full((9, 3), 0.1)) == ""
    assert "52 % of signal" in fault_of(np.full((9, 3), 0.3))


def test_frames_that_do_not_line_up_are_told_with_the_shift(lookwright: Any, work: Path) -> None:
    """Also where the edges are as strong as a grade leaves them, and never for frames that do line up."""
    pixels = read(work / "graded.png").pixels
    shifted = np.roll(np.roll(pixels, 60, axis=1), -3, axis=0)
    write(work / "shifted.png", shifted, depth="16")
    refused(
        lookwright,
        work,
        "shifted.png",
        "the frames do not line up: the graded one lies 60 pixels to the right and 3 pixels up",
    )


@pytest.mark.parametrize("shift", [(60, 0), (-7, 4), (0, -31)])
def test_a_shift_is_found(shift: tuple[int, int]) -> None:
    """Through a strong grade and noise of 3 codes of 8 bits."""
    from foreign_grades import bleached

    from lookwright.solve.learn.aligned import shift_between

    still = read(Path(__file__).parents[2] / "sample_images" / "day_acescct.png").pixels[200:700, 300:1100]
    graded = bleached(still.astype(float)) + np.random.default_rng(4).normal(0.0, 3 / 255, still.shape)
    moved = np.roll(graded, shift, axis=(1, 0)).astype(np.float32)
    assert shift_between(still, moved)[:2] == shift
    assert shift_between(still, graded.astype(np.float32))[:2] == (0, 0)


def test_a_flat_frame_is_refused(lookwright: Any, work: Path) -> None:
    write(work / "bench.png", np.full((40, 60, 3), 0.4, np.float32), depth="16")
    write(work / "flat.png", np.full((40, 60, 3), 0.5, np.float32), depth="16")
    refused(lookwright, work, "flat.png", "too few colours")


def test_the_name_must_be_that_of_a_recipe(lookwright: Any, work: Path) -> None:
    said = lookwright("learn", "look.toml", "--pair", "bench.png", "graded.png", "--out", "new.cube")
    assert said.code == 2 and "does not end in .toml" in said.err


def test_the_same_seed_gives_the_same_files(lookwright: Any, work: Path) -> None:
    found = []
    for name in ("a", "b"):
        (work / name).mkdir()
        lookwright(
            "learn",
            "look.toml",
            "--pair",
            "bench.png",
            "graded.png",
            "--out",
            f"{name}/new.toml",
            "--quiet",
            "--no-tune",
            "--date",
            "x",
        )
        found.append([(work / name / f).read_bytes() for f in ("new.toml", "new.cube", "new-coverage.png")])
    assert found[0] == found[1]
