"""A frame of a clip made small, and two of them compared: exposure and balance between frames near in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter

from lookwright.arrays import Array

from .difference import Difference

CELLS = 64
"""Cells across a frame: small enough that a person is many of them, large enough that noise is averaged."""

FLOOR = 1.0 / 512.0
"""Light under which a cell says nothing: some six and a half stops under middle grey, where noise and flare are."""

FEWEST = 0.15
"""Share of the frame that must be seen in both frames."""

ALIKE = 0.5
"""Correlation of the two pictures, where they lie on each other, under which they show different things."""


BIAS = (0.002, 0.1)
"""Stops and mired that any one comparison may be off, whatever its scatter says: what moves a little is not outvoted.
Without it a chain of neighbours, each believed to 0.0001, would outweigh the one comparison from end to end."""


@dataclass(frozen=True)
class FrameLight:
    """Means over square cells, float32: ``light`` (h, w, 3) scene light, and ``shape`` (h, w), exposure taken out."""

    light: Array
    shape: Array


@dataclass(frozen=True)
class Between:
    """``values`` (stops, mired) of the later frame against the earlier, with standard ``errors``."""

    values: Array
    errors: Array
    residual: Array
    """(h, w) stops by which each cell of the later frame is brighter than that; NaN outside both frames."""


def reduce(scene: Array) -> FrameLight:
    """Scene light (H, W, 3), linear ACEScg, to cells. NaN and infinity count as black."""
    clean = np.nan_to_num(np.asarray(scene, np.float32), nan=0.0, posinf=0.0, neginf=0.0)
    height, width = clean.shape[:2]
    every = max(1, round(max(width, height) / CELLS))
    h, w = max(1, height // every), max(1, width // every)
    blocks = clean[: h * every, : w * every] if min(height, width) >= every else clean[:1, :1]
    light = blocks.reshape(h, -1, w, blocks.shape[1] // w, 3).mean(axis=(1, 3))
    grey = np.log2(np.maximum(light.mean(axis=2), 0.0) + FLOOR)
    local = grey - uniform_filter(grey, 9, mode="nearest")
    spread = np.sqrt(uniform_filter(local**2, 9, mode="nearest")) + 0.1
    return FrameLight(light, (local / spread).astype(np.float32))


def compare(first: FrameLight, second: FrameLight) -> Between | None:
    """Exposure and balance of the second frame against the first; None when they share too little.

    Per cell and channel the ratio of light, then a weighted linear fit with Tukey's weights, so that what moved or was
    lit otherwise is outvoted. Balance is that of ``balance_matrix``, linearised about what was found so far.
    """
    if first.light.shape != second.light.shape:
        return None
    move = _moved(first.shape, second.shape)
    if move is None:
        return None
    (ya, yb), (xa, xb) = (_overlap(n, d) for n, d in zip(first.shape.shape, move, strict=True))
    a, b = first.light[ya, xa].astype(np.float64), second.light[yb, xb].astype(np.float64)
    use = (a.min(axis=2) > FLOOR) & (b.min(axis=2) > FLOOR)
    if use.sum() < FEWEST * first.shape.size:
        return None
    light, aim = a[use], np.log2(b[use])
    # A move of part of a cell, to first order (Lucas, Kanade 1981): else every edge would be noise.
    slope = np.stack(list(np.gradient(np.log2(np.maximum(a, FLOOR)), axis=(0, 1))), axis=-1)[use]
    values = np.zeros(3)
    for _ in range(3):
        before = values
        values, weight, gap, normal = _fit(light, aim, slope, values)
        if abs(values[1] - before[1]) < 2.0:
            break  # so near the point of linearisation that nothing bends
    # Neighbouring cells err alike (texture, moves): a cell counts as a quarter of an observation.
    scale = np.sum(weight * gap**2) / max(weight.sum() - 5.0, 1.0) * 4.0
    errors = np.sqrt(np.diag(np.linalg.inv(normal)) * scale)
    residual = np.full(first.shape.shape, np.nan)
    window = residual[yb, xb]
    window[use] = gap.mean(axis=1)
    return Between(values[:2], np.hypot(errors[:2], BIAS), residual)


def _fit(light: Array, aim: Array, slope: Array, start: Array) -> tuple[Array, Array, Array, Array]:
    """One linearisation about ``start`` (stops, mired, tint) and five rounds of weights on it."""
    here = np.log2(np.maximum(Difference(*start).apply(light), 1e-6))
    columns = np.stack(
        [
            np.ones_like(here),
            np.log2(np.maximum(Difference(start[0], start[1] + 1.0, start[2]).apply(light), 1e-6)) - here,
            (np.log2(np.maximum(Difference(start[0], start[1], start[2] + 1e-3).apply(light), 1e-6)) - here) * 1e3,
        ],
        axis=-1,
    )
    columns = np.concatenate([columns, slope], axis=-1)
    weight, step = np.ones(here.shape), np.zeros(5)
    gap = aim - here
    step[0] = np.median(gap)
    for _ in range(6):
        left = gap - columns @ step
        scale = max(1.4826 * float(np.median(np.abs(left))), 1e-3)
        # Tukey's biweight, 95 % efficient on normal noise (Holland, Welsch 1977): what is far off has no pull.
        weight = np.square(np.maximum(1.0 - (left / (4.685 * scale)) ** 2, 0.0))
        weighted = columns * weight[..., None]
        normal = np.einsum("nck,ncl->kl", weighted, columns) + np.diag([1e-9, 1e-9, 1e-3, 1.0, 1.0])
        step = np.linalg.solve(normal, np.einsum("nck,nc->k", weighted, gap))
    return start + step[:3], weight, gap - columns @ step, normal


def _moved(first: Array, second: Array) -> tuple[int, int] | None:
    """Whole cells by which the picture moved, by phase correlation (Kuglin, Hines 1975); None when not alike."""
    if _correlation(first, second, (0, 0)) > 0.9:
        return 0, 0
    window = np.outer(np.hanning(first.shape[0] + 2)[1:-1], np.hanning(first.shape[1] + 2)[1:-1])
    cross = np.conj(np.fft.rfft2(first * window)) * np.fft.rfft2(second * window)
    peak = np.fft.irfft2(cross / (np.abs(cross) + 1e-9), s=first.shape)
    at = np.unravel_index(int(np.argmax(peak)), peak.shape)
    found = tuple(int(p) - (n if p > n // 2 else 0) for p, n in zip(at, peak.shape, strict=True))
    best = max(((0, 0), (found[0], found[1])), key=lambda m: _correlation(first, second, m))
    return best if _correlation(first, second, best) > ALIKE else None


def _overlap(size: int, move: int) -> tuple[slice, slice]:
    return slice(max(-move, 0), size - max(move, 0)), slice(max(move, 0), size - max(-move, 0))


def _correlation(first: Array, second: Array, move: tuple[int, int]) -> float:
    (ya, yb), (xa, xb) = (_overlap(n, d) for n, d in zip(first.shape, move, strict=True))
    a, b = first[ya, xa], second[yb, xb]
    if a.size < FEWEST * first.size:
        return -1.0
    return float((a * b).sum() / np.sqrt((a * a).sum() * (b * b).sum() + 1e-12))
