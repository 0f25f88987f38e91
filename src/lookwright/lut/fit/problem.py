"""What a lattice is fitted to: natural colours in every cell, greys, and the stills as a hint."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.lut.lattices.lattice import CHUNK, Lattice
from lookwright.lut.lattices.samples import cells, neutrals, per_cell, spread

from .appearance import ToLab, sensitivity
from .lookups import Lookups
from .prior import FLOOR, Prior
from .solve import Fit
from .threads import Run, parts_of
from .weights import cell_of

_SAMPLES = 300_000
"""Aim for the number of fitted colours of the cube at 33 points, growing with their number along an axis; more in a
cell the more its colours weigh. Four in three of these, and four in every cell of 65 points, took twice the time and
made natural colours and photographs no better (measured)."""
_IN_A_CELL = (2, 32)
"""Least and most. With one, 65 points err more than plain sampling at a hundredth of the cube."""
_MOST_CELLS, _SPREAD = 64**3, 1 << 20
"""Lattices with more cells get so many colours spread over the cube, or they would need gigabytes; points that no
colour reaches follow their neighbours."""
_GREYS = 0.02
"""Share of the greys between the points of the neutral axis in the whole weight."""
_SMOOTH = 0.01
"""Pull against second differences of the displacements, in shares of the diagonal of the normal equations, for cells of
1/32; in smaller ones it grows with their number. Set by roughness: with a third of it the largest kink along ramps is
1.29 of that of plain sampling at 65 points and gains are little more; here it is 1.2 at most (measured)."""


_TYPICAL, _TYPICAL_HINT = 0.4, 0.03
"""Share of the trilinear residuals, and of the stills, by which smoothness is set for all solutions."""


@dataclass(frozen=True)
class Case:
    """What the samples of a problem count for, in one solution of it."""

    trilinear: float
    """Share of the residuals of trilinear lookups; the rest is that of tetrahedral ones."""
    hint: float
    """Share of the stills in the whole weight."""
    without: int | None = None
    """0 or 1: leave every other still out, beginning with this one."""


class Problem:
    """The least-squares problem of one lattice.

    Parameters
    ----------
    look, plain
        The exact look, and its plainly sampled lattice.
    to_lab
        Output signal to CIELAB.
    prior
        Weight of input colours.
    stills
        (stills, M, 3) colours of the stills to be fitted to; none: (0, 0, 3).
    free
        (N, 3) which values may move.
    seed
        Shifts the colours of the cube.
    run
        How to spread work over threads.
    """

    def __init__(
        self,
        look: Callable[[Array], Any],
        plain: Lattice,
        to_lab: ToLab,
        prior: Prior,
        stills: Array,
        free: NDArray[np.bool_],
        seed: int,
        run: Run,
    ) -> None:
        size, values = plain.size, plain.table.reshape(-1, 3)
        self._run, self._free, self._size = run, free, size
        self.stills = len(stills)
        cube, weight = self._cube(prior, seed)
        greys = neutrals(size, 4)
        points = np.concatenate([cube, greys, stills.reshape(-1, 3)])
        weight = np.concatenate([weight * (1.0 - _GREYS), np.full(len(greys), _GREYS / len(greys))])
        # Number of the still, -1 for colours that belong to none.
        still = np.concatenate([np.full(len(weight), -1), np.repeat(np.arange(len(stills)), stills.shape[1])])
        weight = np.concatenate([weight, np.zeros(len(points) - len(weight))])
        # Neighbours in the lattice become neighbours in memory.
        order = np.argsort(cell_of(size, points), kind="stable")
        points, self._weight, self._still = points[order], weight[order], still[order]
        exact = self.over(look, points)
        at_points = np.concatenate(
            run(lambda part: sensitivity(values[part], to_lab), parts_of(len(values), CHUNK)), axis=1
        )
        self._fit = Fit(Lookups(size, points, run), at_points, run)
        self._fit.stiffen(self._weights(_TYPICAL, _TYPICAL_HINT, None), _SMOOTH * (size - 1) / 32.0)
        looked_up = self._fit.looked_up(values)
        self._residual = np.subtract(exact, looked_up, out=looked_up)

    def over(self, function: Callable[[Array], Any], points: Array) -> Array:
        """``function`` of (M, 3) in fixed parts on threads."""
        parts = self._run(lambda part: np.asarray(function(points[part]), np.float64), parts_of(len(points), CHUNK))
        return np.concatenate(parts)

    def _cube(self, prior: Prior, seed: int) -> tuple[Array, Array]:
        """Colours of the cube and their weights, 1 in all."""
        size = self._size
        if (size - 1) ** 3 > _MOST_CELLS:
            points = spread(_SPREAD, 3, seed)
            weight = FLOOR + self.over(prior, points)
            return points, weight / weight.sum()
        density = np.sqrt(FLOOR + self.over(prior, (cells(size) + 0.5) / (size - 1)))
        counts = np.round(density * (_SAMPLES * (size - 1) / 32.0 / density.sum())).astype(np.intp)
        counts = np.clip(counts, *_IN_A_CELL)
        points = per_cell(size, counts, seed)
        weight = (FLOOR + self.over(prior, points)) / np.repeat(counts, counts)
        return points, weight / weight.sum()

    def _weights(self, trilinear: float, hint: float, without: int | None) -> Array:
        """(2, M) weights of the samples for either lookup."""
        given = self._still >= 0
        if without is not None:
            given &= self._still % 2 != without
        count = int(given.sum())
        weight = self._weight * (1.0 - hint if count else 1.0)
        weight = np.where(given, hint / max(count, 1), weight)
        return weight * np.array([[trilinear], [1.0 - trilinear]])

    def solutions(self, cases: Sequence[Case], iterations: int, near: Array | None = None) -> list[Array]:
        """(N, 3) displacements of the lattice points for each case, by so many steps of conjugate gradients from
        ``near`` (N, 3), or from the local means of the residuals where it is None."""
        weights = [self._weights(case.trilinear, case.hint, case.without) for case in cases]
        starts = [near] * len(cases) if near is not None else self._fit.local_means(self._residual, weights)
        for start in starts:
            start[~self._free] = 0.0
        return self._fit.solve_side_by_side(self._residual, weights, starts, self._free, iterations)
