"""The correction as an ASC CDL in the look's own source signal: numbers that any tool can apply before the LUT."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.cdl import apply_cdl
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.formats.cdl import Correction

from .difference import Difference
from .solve import solve

DARK = 0.02
"""Scene light that counts half in the fit: about three stops under middle grey."""


@dataclass(frozen=True)
class Expressed:
    """A correction as a CDL, and how well it says it."""

    cdl: Correction
    mean_error: float
    """Mean absolute error in 10-bit code values over the still's pixels."""
    p99_error: float


def few(pixels: NDArray[Any]) -> Array:
    """Some 4000 samples (n, 3) float64 of a still's signal (H, W, 3), to fit a CDL on."""
    every = pixels[::8, ::8].reshape(-1, 3)
    return np.asarray(every[:: max(1, len(every) // 4000)], np.float64)


def express(difference: Difference, signal: Signal, samples: Array) -> Expressed:
    """Fit a CDL to a correction on samples (n, 3) of source signal.

    In a log signal a gain is an offset, so exposure is exact there; balance mixes channels a little and flare bends
    the dark end, which slope, power and saturation approach. Six decimals are kept, as the file writes them.
    """
    if difference == Difference():
        return Expressed(Correction(), 0.0, 0.0)
    light = difference.undo(signal.to_scene(samples))
    aim = np.asarray(signal.from_scene(light), np.float64)
    # What flare bends lies in the darkest stops and no CDL can follow it: an even weight would pay for it with a
    # drift of the mid-tones, where faces and walls are.
    grey = np.maximum(light.mean(axis=1, keepdims=True), 0.0)
    weight = np.maximum(grey / (grey + DARK), 0.05)
    weight *= 100.0 / np.sqrt(aim.size * np.mean(weight**2))
    start = np.concatenate([np.ones(3), np.median(aim - samples, axis=0), np.ones(3), [1.0]])
    low = np.concatenate([np.full(3, 0.5), np.full(3, -0.6), np.full(3, 0.5), [0.5]])
    high = np.concatenate([np.full(3, 2.0), np.full(3, 0.6), np.full(3, 2.0), [1.6]])
    scale = np.concatenate([np.full(3, 0.1), np.full(3, 0.05), np.full(3, 0.1), [0.1]])

    def build(v: Array) -> Array:
        return apply_cdl(samples, v[:3], v[3:6], v[6:9], float(v[9]))

    def residual(v: Array) -> Array:
        # Slope, offset and power nearly stand in for each other on a narrow picture: a faint pull to neutral
        # keeps the numbers readable and the file the same on every machine.
        pull = 1e-4 * (v - np.concatenate([np.ones(3), start[3:6], np.ones(4)])) / scale
        return np.concatenate([((build(v) - aim) * weight).ravel(), pull])

    values, _ = solve(residual, start, low, high, scale, rounds=40)
    v = np.round(values, 6)
    slope, offset, power = ((float(t[0]), float(t[1]), float(t[2])) for t in (v[:3], v[3:6], v[6:9]))
    cdl = Correction(slope, offset, power, float(v[9]))
    error = np.abs(cdl(samples) - aim) * 1023.0
    return Expressed(cdl, float(error.mean()), float(np.percentile(error, 99)))
