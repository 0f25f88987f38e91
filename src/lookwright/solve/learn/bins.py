"""Pairs of colours averaged in cells of colour, and knots spread over them: what a smooth fit is made from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

WIDTH = 1.0 / 50.0
"""Side of a cell, in signal. A map of second derivative 5 is bent by 8e-5 over it, and the noise of a hundred pixels
is averaged away."""

FULL = 20.0
"""Samples from which a cell counts in full: beyond them it is the smoothness that errs, not the mean."""


@dataclass(frozen=True)
class Binned:
    """Means over cells of colour."""

    made: Array
    """(n, 3) mean signal of the recipe."""
    moved: Array
    """(n, 3) mean difference of the graded signal from it."""
    weight: Array
    """(n,) 0..1: how much a cell counts."""
    still: NDArray[np.intp]
    """(n,) from which pair; cells of different pairs are kept apart."""

    def thinned(self, most: int) -> Binned:
        """Every so-manieth cell, ``most`` at most."""
        step = -(-len(self.made) // most)
        return Binned(self.made[::step], self.moved[::step], self.weight[::step], self.still[::step])


def binned(made: Array, wanted: Array, still: NDArray[np.intp], trust: Array | None = None) -> Binned:
    """Average samples (m, 3) over cells of :data:`WIDTH`, each pair (``still``, (m,)) for itself.

    ``trust`` (m,) weighs the samples. The order of cells is that of their places, so it depends on nothing else.
    """
    each = np.ones(len(made)) if trust is None else trust
    place = np.floor(made / WIDTH).astype(np.int64)
    key = ((still * 64 + place[:, 0]) * 64 + place[:, 1]) * 64 + place[:, 2]
    kept, cell = np.unique(key, return_inverse=True)
    weight = np.bincount(cell, each)

    def mean(values: Array) -> Array:
        return np.stack([np.bincount(cell, each * v) for v in values.T], axis=1) / weight[:, None]

    counted = np.minimum(weight, FULL) / FULL
    return Binned(mean(made), mean(wanted - made), counted, kept // 64**3)


def farthest(points: Array, count: int) -> NDArray[np.intp]:
    """Indices of at most ``count`` of (n, 3) points, each the one farthest from those before (Gonzalez 1985).

    The first is the one farthest from the middle of the cube; distances are compared to 1e-9, so that no last digit
    decides between two that are alike.
    """
    if len(points) <= count:
        return np.arange(len(points))
    at = int(_rounded(points, np.full(3, 0.5)).argmax())
    chosen = [at]
    nearest = _rounded(points, points[at])
    for _ in range(count - 1):
        at = int(nearest.argmax())
        chosen.append(at)
        nearest = np.minimum(nearest, _rounded(points, points[at]))
    return np.array(chosen)


def _rounded(points: Array, place: Array) -> Array:
    return np.round(((points - place) ** 2).sum(axis=1), 9)
