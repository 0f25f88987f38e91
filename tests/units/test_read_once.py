"""Stills decoded once for a job that reads them several times, and work done side by side in its own order."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from lookwright.assess.measure.levels import Spread, level, signal_level
from lookwright.colour.luma import luma_weights, nominal
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError
from lookwright.pictures.batch import side_by_side
from lookwright.pictures.stills import CodedStill, once, read, read_either, read_once, write

READING = sys.modules[read.__module__]
"""The module, whose name in the package is taken by its function."""


@pytest.fixture(params=["png", "tiff"])
def stills(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> tuple[list[Path], list[Path]]:
    """Three small stills, of codes or of floats, and the list of those decoded from now on."""
    paths = [tmp_path / f"{n}.{request.param}" for n in "abc"]
    for i, path in enumerate(paths):
        write(path, np.full((8, 9, 3), i / 4.0, np.float32), depth="16" if request.param == "png" else "float")
    decoded: list[Path] = []
    for name in ("_decode", "_decode_codes"):
        whole = getattr(READING, name)

        def noted(path: Path, kind: object, whole: Callable[[Path, object], object] = whole) -> object:
            found = whole(path, kind)
            if found is not None:
                decoded.append(path)
            return found

        monkeypatch.setattr(READING, name, noted)
    return paths, decoded


def test_each_still_is_decoded_once(stills: tuple[list[Path], list[Path]]) -> None:
    paths, decoded = stills
    alone = [read(p) for p in paths]
    del decoded[:]
    with read_once(paths), read_once(paths):
        for _ in range(3):
            for path, before in zip(paths, alone, strict=True):
                still, kept = read(path), read_either(path)
                np.testing.assert_array_equal(still.pixels, before.pixels)
                np.testing.assert_array_equal(kept.pixels, before.pixels)
                assert still.path == path and still.depth == before.depth and still.metadata == before.metadata
                shared = kept.codes if isinstance(kept, CodedStill) else kept.pixels
                assert not shared.flags.writeable, "others see the same numbers"
    assert sorted(decoded) == paths
    read(paths[0]).pixels[:] = 0.0
    assert len(decoded) == 4 and once.held() is None


def test_a_file_that_changes_is_read_anew(stills: tuple[list[Path], list[Path]]) -> None:
    paths, _ = stills
    with read_once(paths):
        assert read(paths[0]).pixels.max() == 0.0
        write(paths[0], np.ones((8, 9, 3), np.float32))
        os.utime(paths[0], ns=(1, 1))  # a clock too coarse to tell the two apart
        assert read(paths[0]).pixels.min() == 1.0


def test_without_room_stills_are_read_as_ever(
    stills: tuple[list[Path], list[Path]], monkeypatch: pytest.MonkeyPatch
) -> None:
    paths, decoded = stills
    monkeypatch.setattr(once, "MOST_BYTES", 8 * 9 * 16)  # room for one
    with read_once(paths):
        for _ in range(2):
            for path in paths:
                read(path)
    assert sorted(decoded) == sorted([paths[0], *paths[1:] * 2])


def test_a_fault_is_told_by_whoever_reads(stills: tuple[list[Path], list[Path]], tmp_path: Path) -> None:
    paths, _ = stills
    png = write(tmp_path / "whole.png", np.zeros((8, 9, 3), np.float32))
    bad = tmp_path / "bad.png"
    bad.write_bytes(png.read_bytes()[:60])
    with read_once([*paths, bad, tmp_path / "none.png"]):
        assert read(paths[1]).width == 9
        for _ in range(2):
            with pytest.raises(PictureError, match=r"bad\.png: .*damaged or cut short"):
                read(bad)
        with pytest.raises(PictureError, match="no such file"):
            read(tmp_path / "none.png")


def test_side_by_side_keeps_the_order_and_holds_few() -> None:
    running, most = 0, 0
    lock = threading.Lock()

    def work(n: int) -> int:
        nonlocal running, most
        with lock:
            running += 1
            most = max(most, running)
        time.sleep(0.001 * (n % 3))
        with lock:
            running -= 1
        if n == 7:
            raise PictureError("7", "is damaged")
        return n

    assert list(side_by_side(range(7), work, 3)) == list(range(7)) and most <= 3
    seen = []
    with pytest.raises(PictureError, match="7: is damaged"):
        for n in side_by_side(range(100), work, 3):
            seen.append(n)
    assert seen == list(range(7))


@pytest.mark.parametrize("count", [1, 2, 3, 20, 1001])
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_spreads_are_numpys_percentiles(count: int, kind: type) -> None:
    values = np.random.default_rng(count).normal(0.4, 0.3, count).astype(kind)
    kept = values.copy()
    spread = Spread.of(values)
    np.testing.assert_array_equal(values, kept)
    expected = np.percentile(values.astype(np.float64), [50.0, 5.0, 95.0])
    # Two ways to interpolate between two numbers differ in the last digit.
    np.testing.assert_allclose([spread.median, spread.p5, spread.p95], expected, rtol=1e-14, atol=1e-15)
    np.testing.assert_allclose(spread.mean, values.astype(np.float64).mean(), rtol=1e-12)


@pytest.mark.parametrize("signal", [Signal.named("ACEScct"), Signal.named("BT.1886", None, "legal")])
def test_bands_measure_what_the_whole_frame_does(signal: Signal) -> None:
    """A frame of several bands and a bit: every figure from the whole array at once, by numpy's own percentiles."""
    pixels = np.random.default_rng(3).uniform(0.0, 1.0, (181, 191, 3)).astype(np.float32)
    found, waved = level(pixels, signal), signal_level(pixels, signal)
    flat = 100.0 * nominal(pixels.reshape(-1, 3), signal)
    weights, _ = luma_weights(signal)
    for spread, values in (
        (found.luma, flat @ weights),
        (found.red, flat[:, 0]),
        (found.green, flat[:, 1]),
        (found.blue, flat[:, 2]),
    ):
        expected = [values.mean(), *np.percentile(values, [50.0, 5.0, 95.0])]
        np.testing.assert_allclose(
            [spread.mean, spread.median, spread.p5, spread.p95], expected, rtol=1e-12, atol=1e-12
        )
    assert (waved.luma, waved.red, waved.pixels) == (found.luma, found.red, found.pixels)
    assert found.scene.estimated == (signal.kind == "display") == (found.display is not None)
