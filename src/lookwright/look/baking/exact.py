"""Pictures through a compiled look itself, with no lattice between: in bands, on threads."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from lookwright.arrays import Array, Pixels
from lookwright.lut.lattices.apply import nan_fault

BAND = 1 << 15
"""Pixels worked on at once by a thread: float64 steps of them stay within a few megabytes."""


class Exact:
    """A function of (M, 3) float64 signal as one of (..., 3) float32 pictures; called as an ``Applier`` is.

    About a megapixel a second a core for the plain rendering (measured), a hundredth of what a lattice does. Raises
    :class:`PictureError` for NaN, which is looked for unless ``no_nan``.
    """

    def __init__(self, function: Callable[[Array], Array], threads: int | None = None) -> None:
        self.function = function
        self.threads = threads or os.cpu_count() or 1

    def __call__(self, pixels: Pixels, no_nan: bool = False, out: Pixels | None = None) -> Pixels:
        if not no_nan and pixels.size and np.isnan(pixels.min()):
            raise nan_fault(pixels)
        out = np.empty(pixels.shape, np.float32) if out is None else out
        source, target = pixels.reshape(-1, 3), out.reshape(-1, 3)

        def band(start: int) -> None:
            target[start : start + BAND] = self.function(source[start : start + BAND].astype(np.float64))

        starts = range(0, len(source), BAND)
        if min(self.threads, len(starts)) < 2:
            for start in starts:
                band(start)
        else:
            with ThreadPoolExecutor(self.threads) as pool:
                list(pool.map(band, starts))
        return out
