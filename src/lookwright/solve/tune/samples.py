"""Pixels to tune on: a fixed number, on a stratified grid that depends on nothing but size and seed."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.pictures.stills import CodedStill, Still


def grid_of(height: int, width: int, count: int, seed: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """(rows, columns) of ``count`` pixels, one at a random place in each cell of a near-square grid.

    The same size, count and seed give the same places: two pictures of the same scene are then sampled alike, and
    cost does not grow with megapixels. Small pictures are sampled with repetition.
    """
    rows = max(1, round(math.sqrt(count * height / width)))
    columns = -(-count // rows)
    rng = np.random.default_rng([seed, height, width, count])
    y, x = np.divmod(np.arange(rows * columns), columns)
    if rows * columns > count:  # leave cells out evenly, not the last row
        keep = np.sort(rng.permutation(rows * columns)[:count])
        y, x = y[keep], x[keep]
    jitter = rng.random((2, len(y)))
    at_y = np.minimum((y + jitter[0]) * height / rows, height - 1).astype(np.intp)
    at_x = np.minimum((x + jitter[1]) * width / columns, width - 1).astype(np.intp)
    return at_y, at_x


def sampled(pixels: NDArray[np.float32], count: int, seed: int) -> Array:
    """(count, 3) float64 pixels of (H, W, 3)."""
    y, x = grid_of(pixels.shape[0], pixels.shape[1], count, seed)
    return pixels[y, x].astype(np.float64)


def sampled_still(still: Still | CodedStill, count: int, seed: int) -> Array:
    """The same of a still's pixels: of codes no more is made signal."""
    return still.part(*grid_of(still.height, still.width, count, seed)).astype(np.float64)


def shared(total: int, parts: int) -> list[int]:
    """``total`` in so many nearly equal whole parts."""
    return [total // parts + (1 if i < total % parts else 0) for i in range(parts)]


def thumbnail(pixels: NDArray[np.float32], width: int = 960) -> NDArray[np.float32]:
    """A copy thinned to about ``width`` columns by block means, for sheets."""
    n = max(1, pixels.shape[1] // width)
    h, w = pixels.shape[0] // n * n, pixels.shape[1] // n * n
    if n == 1 or h == 0:
        return pixels.copy()
    return pixels[:h, :w].reshape(h // n, n, w // n, n, 3).mean(axis=(1, 3), dtype=np.float32)
