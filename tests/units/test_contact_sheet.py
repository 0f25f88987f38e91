"""Contact sheets: a row is as high as its pictures, whatever shapes stand in it."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.present.sheets.canvas import SURROUND
from lookwright.present.sheets.layouts import Frame, contact


def frame(width: int, height: int, level: float = 0.9) -> Frame:
    return Frame(np.full((height, width, 3), level, np.float32), f"{width} x {height}")


def empty(sheet: np.ndarray) -> float:
    """Share of the sheet that no picture covers."""
    return float(np.mean(sheet[..., 1] == SURROUND))


@pytest.mark.parametrize("at", [0, 7, 19])
def test_one_upright_still_among_nineteen(at: int) -> None:
    frames = [frame(640, 360) for _ in range(19)]
    flat = contact(frames, "x", 4, 400)
    frames.insert(at, frame(360, 640))
    mixed = contact(frames, "x", 4, 400)
    assert mixed.shape[1] == flat.shape[1]
    # 19 and 20 fill five rows of four; the upright one may make its own row a third higher.
    assert flat.shape[0] < mixed.shape[0] <= flat.shape[0] + 225 / 3 + 2
    assert empty(mixed) < empty(flat) + 0.08


def test_rows_are_as_high_as_their_pictures() -> None:
    wide, usual = frame(640, 160), frame(640, 360)
    sheets = [contact([*[wide] * n, *[usual] * 8], columns=4, width=400).shape[0] for n in (0, 4, 8)]
    step = sheets[1] - sheets[0]
    assert 100 < step < 100 + 60, "a row of low pictures is low"
    assert sheets[2] - sheets[1] == step
    upright = [frame(360, 640)] * 4
    assert contact(upright, columns=4, width=180).shape[0] > 320, "among their like upright ones keep their size"


def test_every_picture_is_there_whole() -> None:
    frames = [frame(64 * (2 + n % 3), 90, 0.5 + 0.02 * n) for n in range(7)]
    sheet = contact(frames, columns=3, width=400)
    for n, f in enumerate(frames):
        found = sheet[..., 1] == round((0.5 + 0.02 * n) * 255)
        assert found.sum() >= 0.98 * f.pixels.shape[0] * f.pixels.shape[1]
