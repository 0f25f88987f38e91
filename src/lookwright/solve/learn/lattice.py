"""A smooth map on a lattice: its values chosen so that lookups between the points err least, by either lookup."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lookwright.arrays import Array
from lookwright.lut.fit.weights import bends, tetrahedral_weights, trilinear_weights
from lookwright.lut.lattices.lattice import grid
from lookwright.lut.lattices.samples import spread

SIZE = 33
"""Points a side."""
_EVEN = 60_000
"""Colours of the whole cube that the lattice is fitted at, besides those that were seen: two a cell."""
_EVEN_SHARE = 0.1
"""Their weight, all together, against the seen ones: enough to hold what no colour is near."""
_STIFF = 1e-5
"""Weight of squared second differences of the corrections, over the mean weight of a point."""
_STEPS = 24
"""Conjugate-gradient steps; a fixed number, so that no last digit decides when to stop."""


def on_lattice(moved: Callable[[Array], Array], seen: Array) -> Array:
    """(SIZE, SIZE, SIZE, 3) displacements for a map ``moved`` of (m, 3) colours, closest at the ``seen`` ones (m, 3).

    Sampled, then corrected by least squares over both lookups together: a straight line that cuts through a bend errs
    half as much as one that joins its ends. What is fitted to is the map, not the samples, so no noise comes back.
    """
    start = moved(grid(SIZE).reshape(-1, 3))
    even = spread(_EVEN, 3, 5)
    points = np.concatenate([np.clip(seen, 0.0, 1.0), even])
    weight = np.concatenate([np.full(len(seen), 1.0), np.full(len(even), _EVEN_SHARE * len(seen) / len(even))])
    target = moved(points)
    lookups = [make(SIZE, points) for make in (trilinear_weights, tetrahedral_weights)]
    stiff = bends(SIZE) * (_STIFF * weight.sum() / 100.0)

    def normal(d: Array) -> Array:
        return np.asarray(sum(w.T @ (weight[:, None] * (w @ d)) for w in lookups) + stiff @ d)

    right = sum(w.T @ (weight[:, None] * (target - w @ start)) for w in lookups)
    diagonal = sum(np.asarray(w.multiply(w).T @ weight) for w in lookups) + stiff.diagonal()
    found = start + conjugate_gradients(normal, np.asarray(right), diagonal[:, None] + 1e-9)
    return found.reshape(SIZE, SIZE, SIZE, 3)


def conjugate_gradients(normal: Callable[[Array], Array], right: Array, diagonal: Array) -> Array:
    """(n, 3) solution of three systems with one matrix, from zero, with the diagonal as preconditioner."""
    found = np.zeros_like(right)
    left = right.copy()
    eased = left / diagonal
    direction = eased.copy()
    size = (left * eased).sum(axis=0)
    for _ in range(_STEPS):
        image = normal(direction)
        step = size / np.maximum((direction * image).sum(axis=0), 1e-300)
        found += step * direction
        left -= step * image
        eased = left / diagonal
        size, before = (left * eased).sum(axis=0), size
        direction = eased + size / np.maximum(before, 1e-300) * direction
    return found
