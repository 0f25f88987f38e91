"""LUTs that leave nothing to measure: the user needs a sentence, not a table of figures."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

Run = Callable[..., object]


def cube(path: Path, made: Callable[[np.ndarray], np.ndarray]) -> Path:
    axis = np.linspace(0.0, 1.0, 9)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    rows = made(np.stack([red, green, blue], axis=-1).reshape(-1, 3))
    path.write_text("LUT_3D_SIZE 9\n" + "".join("{:.9g} {:.9g} {:.9g}\n".format(*r) for r in rows))
    return path


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (lambda x: np.full_like(x, [0.4, 0.3, 0.2]), "the same colour everywhere (R 0.400, G 0.300, B 0.200;"),
        (lambda x: np.zeros_like(x), "the same colour everywhere (black; its values run from 0 to 0)"),
        (lambda x: np.ones_like(x), "the same colour everywhere (white;"),
        (lambda x: x * 1e-3, "the same colour everywhere (black;"),
        (lambda x: x - 2.0, "the same colour everywhere (black;"),
        (lambda x: x * 1e30, "e+29; expected output from 0 to 1; if its table was written in whole-number codes"),
        (lambda x: x * 1023.0, "divide it by the highest code"),
    ],
)
def test_one_sentence(made: Callable[[np.ndarray], np.ndarray], words: str, tmp_path: Path, lookwright: Run) -> None:
    path = cube(tmp_path / "strange.cube", made)
    said = lookwright("check", path, "--source", "ACEScct", "--output", "BT.1886")
    assert said.code == 2 and said.out == "" and said.err.count("\n") == 1, said
    assert "strange.cube: gives" in said.err and words in said.err


@pytest.mark.parametrize("scale", [0.0, 1e30])
def test_none_is_delivered(scale: float, stills: Path, tmp_path: Path, lookwright: Run) -> None:
    path = cube(tmp_path / "strange.cube", lambda x: x * scale)
    signals = ("--source", "ACEScct", "--output", "BT.1886")
    said = lookwright("deliver", path, *signals, "--stills", stills, "--out", tmp_path / "out")
    assert said.code == 2 and "gives" in said.err and said.err.count("\n") == 1, said
    assert not (tmp_path / "out").exists()


def test_a_channel_at_its_end_everywhere_is_measured(tmp_path: Path, lookwright: Run) -> None:
    """Only red comes through: no colour is left for the search for folds, and the report says so."""
    path = cube(tmp_path / "red.cube", lambda x: x * [1.0, 0.0, 0.0])
    said = lookwright("check", path, "--source", "ACEScct", "--output", "BT.1886", "--json")
    assert said.code == 1 and "nothing here that could be judged" in said.out, said.err


def test_a_strong_but_real_look_is_not_refused(tmp_path: Path, lookwright: Run) -> None:
    for made in (lambda x: x @ np.full((3, 3), 1 / 3), lambda x: (x > 0.45) * 1.0, lambda x: 0.02 * x + 0.4):
        path = cube(tmp_path / "strong.cube", made)
        said = lookwright("check", path, "--source", "ACEScct", "--output", "BT.1886")
        assert said.code == 1 and said.err == "", said
