"""The least-squares problem of a refined lattice, and its solution by preconditioned conjugate gradients.

Unknown are the displacements d of the lattice points from their plainly sampled values. Every sample gives
two residuals, one for either lookup: r - W d with W its shares (weights.py), measured as a colour difference
through its matrix Q (appearance.py). Work is split into parts that do not depend on the number of threads,
and every sum runs in a fixed order, so neither does the result.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .lookups import Lookups, Slice
from .threads import Run

_TRACE = 1e-3
"""Share of the mean diagonal that counts for points that no sample is near."""


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


class Fit:
    """The samples' side of the problem.

    Parameters
    ----------
    lookups
        Those of the sample colours.
    q
        (6, N) sensitivities at the lattice points; between them interpolated, as they change little in a cell.
    run
        How to spread work over threads.
    """

    def __init__(self, lookups: Lookups, q: Array, run: Run) -> None:
        self._lookups, self._run = lookups, run
        columns = np.ascontiguousarray(q.T)

        def between(at: Slice) -> Array:
            return (at.shares[: at.part.stop - at.part.start] @ columns[at.points]).T

        self.q = np.concatenate(run(between, lookups.slices), axis=1)

    def looked_up(self, values: Array) -> Array:
        """(N, 3) values of lattice points to (2, M, 3): trilinear, then tetrahedral, at the samples."""
        return self._lookups.forth(values, self._run)

    def _pulled(self, weights: Sequence[Array], moved: Array, residual: Array | None = None) -> Array:
        """(N, 3K) what the samples pull their lattice points by, for K problems side by side: the lookups of ``moved``
        (N, 3K), or ``residual`` (2, M, 3) minus these, through Q and the weights (2, M) of each problem.

        Side by side, because the shares are then read once for all, and every sum is still the one that it would be
        alone.
        """

        def pulls(at: Slice) -> Array:
            errors = at.shares @ moved[at.points]
            if residual is not None:
                np.subtract(np.tile(residual[:, at.part].reshape(-1, 3), len(weights)), errors, out=errors)
            rows = np.ascontiguousarray(errors.T)
            for k, weight in enumerate(weights):
                _weighed(self.q[:, at.part], rows[3 * k : 3 * k + 3].reshape(3, 2, -1), weight[:, at.part])
            return rows.T

        return self._lookups.back(pulls, moved.shape[1], self._run)

    def _blocks(self, weight: Array) -> Array:
        """(6, N): the 3 by 3 blocks on the diagonal of the normal equations."""

        def weighed(at: Slice) -> Array:
            return (self.q[:, None, at.part] * weight[:, at.part]).reshape(6, -1).T

        return np.ascontiguousarray(self._lookups.back(weighed, 6, self._run, squared=True).T)

    def local_mean(self, residual: Array, weight: Array) -> Array:
        """(N, 3) mean residual round every lattice point, by its shares in the lookups; 0 where no sample is near.

        The solution for a function whose second derivatives do not change from cell to cell; being a mean of
        residuals of one sign, it cannot swing.
        """
        return self.local_means(residual, [weight])[0]

    def local_means(self, residual: Array, weights: Sequence[Array]) -> list[Array]:
        """:meth:`local_mean` for the weights (2, M) of several problems."""
        count = len(weights)

        def weighed(at: Slice) -> Array:
            off = np.ascontiguousarray(residual[:, at.part].transpose(2, 0, 1))
            rows = np.empty((4 * count, *off.shape[1:]))
            for k, weight in enumerate(weights):
                np.multiply(weight[:, at.part], off, out=rows[3 * k : 3 * k + 3])
                rows[3 * count + k] = weight[:, at.part]
            return rows.reshape(4 * count, -1).T

        found = self._lookups.back(weighed, 4 * count, self._run)
        means = []
        for k in range(count):
            sums, share = np.ascontiguousarray(found[:, 3 * k : 3 * k + 3]), found[:, 3 * count + k, None]
            means.append(np.divide(sums, share, out=np.zeros_like(sums), where=share > 0.0))
        return means

    def _bent_back(self, stiffness: Array, x: Array) -> Array:
        """(N, 3) gradient of half the sum of squared second differences along the axes, each times the ``stiffness``
        (N,) of its middle point."""
        n = self._lookups.size
        field, weight = x.reshape(n, n, n, 3), stiffness.reshape(n, n, n, 1)
        out = np.zeros_like(field)
        for axis in range(3):
            f, w, o = (np.moveaxis(v, axis, 0) for v in (field, weight, out))
            bend = f[1:-1] * -2.0
            bend += f[2:]
            bend += f[:-2]
            bend *= w[1:-1]
            o[2:] += bend
            o[:-2] += bend
            bend *= 2.0
            o[1:-1] -= bend
        return out.reshape(-1, 3)

    def _bends_diagonal(self, stiffness: Array) -> Array:
        """(N,) diagonal of the same."""
        n = self._lookups.size
        weight = stiffness.reshape(n, n, n)
        out = np.zeros_like(weight)
        for axis in range(3):
            w, o = np.moveaxis(weight, axis, 0), np.moveaxis(out, axis, 0)
            o[2:] += w[1:-1]
            o[1:-1] += 4.0 * w[1:-1]
            o[:-2] += w[1:-1]
        return out.ravel()

    def stiffen(self, weight: Array, smooth: float) -> None:
        """Set the smoothness of solutions, and precondition; before the first :meth:`solve`.

        Parameters
        ----------
        weight
            (2, M), typical weights of either lookup at every sample.
        smooth
            Pull against second differences of the displacements along the axes, in shares of the diagonal of the
            normal equations at their middle point (and of a thousandth of its mean, where no sample is near).
        """
        blocks = self._blocks(weight)
        diagonal = blocks[:3].mean(axis=0)
        trace = _TRACE * float(diagonal.mean())
        self._stiffness = smooth * (diagonal + trace)
        blocks[:3] += self._bends_diagonal(self._stiffness) + trace
        self._near = inverse(blocks)

    def solve(
        self,
        residual: Array,
        weight: Array,
        start: Array,
        free: NDArray[np.bool_],
        iterations: int,
    ) -> Array:
        """Displacements that make the weighted squares small.

        Parameters
        ----------
        residual
            (2, M, 3): exact value minus plain lookup.
        weight
            (2, M), of either lookup at every sample.
        start
            (N, 3) displacements to begin with; those that are not free are kept.
        free
            (N, 3) which values may move.
        iterations
            Steps of conjugate gradients: a fixed number, so that rounding cannot decide when to stop.
        """
        return self.solve_side_by_side(residual, [weight], [start], free, iterations)[0]

    def solve_side_by_side(
        self,
        residual: Array,
        weights: Sequence[Array],
        starts: Sequence[Array],
        free: NDArray[np.bool_],
        iterations: int,
    ) -> list[Array]:
        """:meth:`solve` for several weights, each with its start."""
        still = ~free

        def rest_of(moved: Sequence[Array], off: Array | None) -> list[Array]:
            """Pull of the samples minus that of the bends; of ``moved`` alone, negated, where ``off`` is None."""
            pulled = self._pulled(weights, np.concatenate(moved, axis=1), off)
            out = []
            for k, x in enumerate(moved):
                bent = self._bent_back(self._stiffness, x)
                mine = np.ascontiguousarray(pulled[:, 3 * k : 3 * k + 3])
                mine = mine - bent if off is not None else mine + bent
                np.copyto(mine, 0.0, where=still)
                out.append(mine)
            return out

        def eased(rest: Array) -> Array:
            step = times(self._near, rest)
            np.copyto(step, 0.0, where=still)
            return step

        found = [start.copy() for start in starts]
        rests = rest_of(found, residual)
        steps = [eased(rest) for rest in rests]
        directions = [step.copy() for step in steps]
        lengths = [float((r * s).sum()) for r, s in zip(rests, steps, strict=True)]
        for _ in range(iterations):
            images = rest_of(directions, None)
            for k, image in enumerate(images):
                if lengths[k] <= 0.0:  # exactly solved
                    continue
                along = lengths[k] / float((directions[k] * image).sum())
                found[k] += along * directions[k]
                rests[k] -= along * image
                step = eased(rests[k])
                before, lengths[k] = lengths[k], float((rests[k] * step).sum())
                directions[k] = step + (lengths[k] / before) * directions[k]
        return found


def _weighed(q: Array, rows: Array, weight: Array) -> None:
    """Vectors (3, ..., M) by the symmetric matrices ``q`` (6, M) and by ``weight`` (..., M), in place."""
    x, y, z = rows
    out, term = np.empty_like(rows), np.empty_like(x)
    for value, (a, b, c) in zip(out, ((0, 3, 4), (3, 1, 5), (4, 5, 2)), strict=True):
        np.multiply(q[a], x, out=value)
        value += np.multiply(q[b], y, out=term)
        value += np.multiply(q[c], z, out=term)
        value *= weight
    rows[:] = out
