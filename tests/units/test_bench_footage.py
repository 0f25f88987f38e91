"""Frames of a clip on the bench: the clip reader's own, bounded in number and memory."""

from __future__ import annotations

import time
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("av")
pytest.importorskip("starlette")

from lookwright.app.bench import footage
from lookwright.app.bench.footage import Footage
from lookwright.errors import PictureError
from lookwright.pictures.clips.read import ClipFrame, all_frames, read_clip
from lookwright.pictures.clips.write import tags_for, write_clip

RATE = Fraction(24)


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("clip") / "bench.mp4"
    ramp = np.linspace(0.1, 0.9, 64, dtype=np.float32)
    frames = (
        ClipFrame(np.tile((ramp * (0.5 + i / 40))[None, :, None], (36, 1, 3)), i / 24, i, 1 / RATE) for i in range(20)
    )
    write_clip(path, frames, RATE, tags_for("BT.1886", "BT.709"), 8, 4)
    return path


def opened(one: Footage, first: float = 0.0) -> dict[str, Any]:
    one.open(0, first, legal=False)
    limit = time.monotonic() + 60
    while one.about()["state"] == "reading":
        assert time.monotonic() < limit
        time.sleep(0.02)
    return one.about()


def test_every_frame_is_the_readers(clip: Path) -> None:
    told: list[dict[str, Any]] = []
    one = Footage([clip], told.append)
    about = opened(one)
    assert about["state"] == "ready" and about["count"] == 20 and about["rate"] == 24.0
    for i, frame in enumerate(all_frames(read_clip(clip))):
        wanted = np.rint(np.clip(frame.pixels, 0, 1).astype(np.float64) * 65535.0)
        np.testing.assert_array_equal(one.frame(i), wanted)
    assert told[-1]["state"] == "ready"
    for number in (-1, 20, 10**6):
        with pytest.raises(PictureError):
            one.frame(number)
    later = opened(one, 0.5)
    assert later["count"] == 8


def test_numbers_and_memory_are_bounded(clip: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(footage, "MOST_FRAMES", 5)
    monkeypatch.setattr(footage, "MOST_BYTES", 5 * 6 * 32 * 18)
    one = Footage([clip], lambda about: None)
    about = opened(one)
    assert about["count"] == 5 and (about["width"], about["height"]) == (32, 18)
    assert one.frame(4).shape == (18, 32, 3)
    one.close()
    with pytest.raises(PictureError):
        one.frame(0)
    with pytest.raises(PictureError):
        one.open(1, 0.0, legal=False)
