"""The least-squares problem of a refined lattice, and its solution by preconditioned conjugate gradients.

Unknown are the displacements d of the lattice points from their plainly sampled values. Every sample gives
two residuals, one for either lookup: r - W d with W its shares (weights.py), measured as a colour difference
through its matrix Q (appearance.py). Work is split into parts that do not depend on the number of threads,
and every sum runs in a fixed order, so neither does the result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .weights import bends, tetrahedral_weights, trilinear_weights

Run = Callable[[Callable[[Any], Any], Iterable[Any]], list[Any]]
"""Runs a function over parts, on threads or not, results in order."""

PART = 1 << 14
"""Samples, or lattice points, worked on at once."""


def times(q: Array, vectors: Array) -> Array:
    """Symmetric matrices (6, M), elements 00 11 22 01 02 12, times vectors (M, 3)."""
    x, y, z = vectors.T
    out = np.empty_like(vectors)
    out[:, 0] = q[0] * x + q[3] * y + q[4] * z
    out[:, 1] = q[3] * x + q[1] * y + q[5] * z
    out[:, 2] = q[4] * x + q[5] * y + q[2] * z
    return out


def inverse(q: Array) -> Array:
    """Inverses of positive definite symmetric matrices (6, M), in closed form: no library decides the last bit."""
    a, b, c, d, e, f = q
    minors = np.stack([b * c - f * f, a * c - e * e, a * b - d * d, e * f - c * d, d * f - b * e, d * e - a * f])
    return minors / (a * minors[0] + d * minors[3] + e * minors[4])


def parts_of(count: int, part: int = PART) -> list[slice]:
    """0..count in slices of at most ``part``."""
    return [slice(start, min(start + part, count)) for start in range(0, count, part)]


class Fit:
    """The samples' side of the problem.

    Parameters
    ----------
    size
        Points per axis of the lattice.
    points
        (M, 3) sample colours in 0..1.
    q
        (6, M) sensitivities there.
    run
        How to spread work over threads.
    """

    def __init__(self, size: int, points: Array, q: Array, run: Run) -> None:
        from scipy import sparse

        self.nodes = size**3
        self.count = len(points)
        self.q = q
        self._run = run
        self._slices = parts_of(self.count)

        def shares(part: slice) -> tuple[Any, Any]:
            return trilinear_weights(size, points[part]), tetrahedral_weights(size, points[part])

        self._shares = run(shares, self._slices)
        self._rows = parts_of(self.nodes)

        def transposed(lookup: int) -> list[Any]:
            whole = sparse.vstack([pair[lookup] for pair in self._shares], format="csr").T.tocsr()
            return [whole[rows] for rows in self._rows]

        # Rows of the transposed matrices, so that each lattice point is summed by one thread in one order.
        self._back = list(zip(*run(transposed, (0, 1)), strict=True))
        self._bends = bends(size)

    def looked_up(self, values: Array) -> Array:
        """(N, 3) values of lattice points to (2, M, 3): trilinear, then tetrahedral, at the samples."""
        out = np.empty((2, self.count, 3))

        def one(index: int) -> None:
            for lookup in (0, 1):
                out[lookup, self._slices[index]] = self._shares[index][lookup] @ values

        self._run(one, range(len(self._slices)))
        return out

    def size_of(self, errors: Array) -> Array:
        """(2, M, 3) errors of signal to (2, M) first-order colour differences."""
        out = np.empty(errors.shape[:2])

        def one(part: slice) -> None:
            for lookup in (0, 1):
                e = errors[lookup, part]
                squared = (times(self.q[:, part], e) * e).sum(axis=1)
                out[lookup, part] = np.sqrt(np.maximum(squared, 0.0))

        self._run(one, self._slices)
        return out

    def _weighed(self, weight: Array, errors: Array) -> Array:
        out = np.empty_like(errors)

        def one(part: slice) -> None:
            for lookup in (0, 1):
                weighed = times(self.q[:, part], errors[lookup, part])
                out[lookup, part] = weighed * weight[lookup, part, None]

        self._run(one, self._slices)
        return out

    def _gathered(self, values: Array) -> Array:
        out = np.empty((self.nodes, values.shape[2]))

        def one(index: int) -> None:
            tri, tet = self._back[index]
            out[self._rows[index]] = tri @ values[0] + tet @ values[1]

        self._run(one, range(len(self._rows)))
        return out

    def _blocks(self, weight: Array) -> Array:
        """(6, N): the 3 by 3 blocks on the diagonal of the normal equations."""
        out = np.empty((6, self.nodes))

        def one(index: int) -> None:
            block = 0.0
            for lookup in (0, 1):
                squared = self._back[index][lookup].copy()
                squared.data = squared.data**2
                block = block + squared @ (self.q * weight[lookup]).T
            out[:, self._rows[index]] = np.asarray(block).T

        self._run(one, range(len(self._rows)))
        return out

    def solve(
        self,
        residual: Array,
        weight: Array,
        start: Array,
        free: NDArray[np.bool_],
        iterations: int,
        hold: float,
        smooth: float,
    ) -> Array:
        """Displacements that make the weighted squares small.

        Parameters
        ----------
        residual
            (2, M, 3): exact value minus plain lookup.
        weight
            (2, M), of either lookup at every sample.
        start
            (N, 3) displacements to begin with; those of points that are not free are kept.
        free
            (N,) which lattice points may move.
        iterations
            Steps of conjugate gradients: a fixed number, so that rounding cannot decide when to stop.
        hold, smooth
            Pull toward the plain values, and against second differences of the displacements, in shares of
            the mean diagonal of the normal equations.
        """
        blocks = self._blocks(weight)
        unit = float(blocks[:3].mean())
        hold, smooth = hold * unit, smooth * unit
        blocks[:3] += hold + smooth * self._bends.diagonal()
        near = inverse(blocks)
        still = ~free

        def normal(x: Array) -> Array:
            out = self._gathered(self._weighed(weight, self.looked_up(x)))
            out += hold * x
            out += smooth * (self._bends @ x)
            return out

        x = start.copy()
        rest = self._gathered(self._weighed(weight, residual)) - normal(x)
        rest[still] = 0.0
        step = times(near, rest)
        direction = step.copy()
        length = float((rest * step).sum())
        for _ in range(iterations):
            if length <= 0.0:  # exactly solved
                break
            image = normal(direction)
            image[still] = 0.0
            along = length / float((direction * image).sum())
            x += along * direction
            rest -= along * image
            step = times(near, rest)
            before, length = length, float((rest * step).sum())
            direction = step + (length / before) * direction
        return x
