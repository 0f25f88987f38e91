"""Data for waveform, component waveforms, vectorscope and exposure map: plain arrays, no drawing.

All functions count every pixel unless ``every`` is given, which then keeps each n-th row only. A 1920 x 1080 frame
takes well under 0.3 s each.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.luma import luma_weights, nominal
from lookwright.colour.spaces.signal import Signal

from .levels import BAND, checked, in_bands, scene_luminance, stops_from

Counts = NDArray[np.int64]

LOW_PERCENT, HIGH_PERCENT = -7.0, 109.0
"""Ends of the level axis: what 10-bit codes 4 and 1019 are in legal range (-6.8 and 109.0 %, BT.709-6 item 4.6)."""


@dataclass(frozen=True)
class Waveform:
    """Counts of pixels by place and level."""

    counts: Counts
    """(levels, columns), level rising with the row index, columns from left to right."""
    edges: Array
    """(levels + 1,) percent."""


@dataclass(frozen=True)
class Vectorscope:
    """Counts of pixels in the colour-difference plane."""

    counts: Counts
    """(bins, bins): [Cr row rising, Cb column rising]."""
    edges: Array
    """(bins + 1,) of Cb and Cr, -0.5..0.5 nominal."""
    matrix: str
    """Which luma coefficients the differences are made with."""


def _rows(pixels: NDArray[Any], every: int) -> NDArray[Any]:
    pixels = checked(pixels, "frame")
    if pixels.ndim != 3:
        pixels = pixels.reshape(1, -1, 3)
    return pixels[::every]


def _binned(values: NDArray[Any], low: float, high: float, bins: int) -> NDArray[np.int64]:
    """Bin index of each value; what lies beyond the ends goes into the end bins, so that no pixel is lost."""
    scaled = (values - low) * (bins / (high - low))
    return np.clip(scaled, 0, bins - 1).astype(np.int64)


def _columns(width: int, columns: int) -> NDArray[np.int64]:
    return (np.arange(width) * columns) // width


def _waveform(percent: Callable[[NDArray[Any]], Array], x: NDArray[Any], columns: int, bins: int) -> Waveform:
    """Of the percent that a function makes of rows (h, w, 3), some rows at a time."""
    width = x.shape[1]
    columns = min(columns, width)
    across, counts = _columns(width, columns), np.zeros(bins * columns, np.int64)
    for rows in _bands(x):
        index = _binned(percent(rows), LOW_PERCENT, HIGH_PERCENT, bins) * columns + across
        counts += np.bincount(index.ravel(), minlength=bins * columns)
    return Waveform(counts.reshape(bins, columns), np.linspace(LOW_PERCENT, HIGH_PERCENT, bins + 1))


def _bands(x: NDArray[Any]) -> Iterator[NDArray[Any]]:
    step = max(1, 4 * BAND // x.shape[1])
    for start in range(0, len(x), step):
        yield x[start : start + step]


def waveform(pixels: NDArray[Any], signal: Signal, columns: int = 640, bins: int = 348, every: int = 1) -> Waveform:
    """Luma' waveform of a picture (H, W, 3): counts over columns and percent (348 bins: a third of a percent each).

    The luma weights are those of :func:`levels.luma_weights`. Levels beyond the axis are counted in its end bins.
    """
    x = _rows(pixels, every)
    weights, _ = luma_weights(signal)
    return _waveform(lambda rows: nominal(rows, signal) @ (100.0 * weights), x, columns, bins)


def component_waveforms(
    pixels: NDArray[Any], signal: Signal, columns: int = 320, bins: int = 348, every: int = 1
) -> tuple[Waveform, Waveform, Waveform]:
    """Waveforms of R', G' and B', as :func:`waveform`."""
    x = _rows(pixels, every)

    def of(channel: int) -> Waveform:
        return _waveform(lambda rows: 100.0 * nominal(rows[..., channel], signal), x, columns, bins)

    return of(0), of(1), of(2)


def colour_differences(pixels: NDArray[Any], signal: Signal) -> tuple[Array, Array, str]:
    """(Cb, Cr, name of the coefficients): Cb = (B' - Y') / (2 (1 - Kb)), Cr = (R' - Y') / (2 (1 - Kr)).

    BT.709-6 item 3.3 and BT.2020-2 table 4, with their luma coefficients for their own primaries; all other
    signals use BT.709's, as an interface without a signalled matrix does. Nominal range -0.5..0.5, open.
    """
    x = nominal(pixels, signal)
    name = signal.primaries.name if signal.primaries.name == "BT.2020" else "BT.709"
    kr, _, kb = (0.2627, 0.6780, 0.0593) if name == "BT.2020" else (0.2126, 0.7152, 0.0722)
    luma = kr * x[..., 0] + (1.0 - kr - kb) * x[..., 1] + kb * x[..., 2]
    return (x[..., 2] - luma) / (2.0 * (1.0 - kb)), (x[..., 0] - luma) / (2.0 * (1.0 - kr)), name


def vectorscope(pixels: NDArray[Any], signal: Signal, bins: int = 300, every: int = 1) -> Vectorscope:
    """Counts of a picture's pixels over Cb and Cr, -0.5..0.5; what lies beyond is counted in the edge bins."""
    counts, name = np.zeros(bins * bins, np.int64), ""
    for rows in _bands(_rows(pixels, every)):
        cb, cr, name = colour_differences(rows, signal)
        index = _binned(cr, -0.5, 0.5, bins) * bins + _binned(cb, -0.5, 0.5, bins)
        counts += np.bincount(index.ravel(), minlength=bins * bins)
    return Vectorscope(counts.reshape(bins, bins), np.linspace(-0.5, 0.5, bins + 1), f"{name} coefficients")


def exposure_map(pixels: NDArray[Any], signal: Signal) -> tuple[NDArray[np.float32], bool]:
    """Stops from middle grey of each pixel, float32 of the picture's shape without its last axis, and whether it is
    an estimate (display pictures, through the inverse of the plain rendering). Black is -16.
    """
    x = checked(pixels, "frame")
    stops = in_bands(lambda part: stops_from(scene_luminance(part, signal)[0]), x.reshape(-1, 3))
    return stops.astype(np.float32).reshape(x.shape[:-1]), signal.kind == "display"
