"""A lattice must not fold where the look does not: every tetrahedron keeps its orientation and some of its volume.

A tetrahedral lookup is straight within each of the six tetrahedra of a cell, so the sign of the determinant of their
edges is exactly whether colours there change places.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .threads import Run, parts_of

Values = Callable[[Array], Array]
"""Displacements (N, 3) to the values that are written, rounded."""

KEPT = 0.25
"""Share of its volume in the plain lattice that a tetrahedron keeps. A share, because near black and in the shoulder
looks compress, and a fixed floor would forbid what is meant."""
FILE_DIGITS = 6
"""Decimals of a .cube: volumes are those that the file has."""
_SHRINK, _PATIENCE, _MOST = 0.5, 3, 1000
"""Displacements round a fold shrink by this factor so many times, then vanish; passes in all, of which all but the
first look at few cells."""
_FLAT = 1e-6
"""Height of a tetrahedron, in signal, that a .cube cannot tell from none: its last digit."""


def flat_volume(size: int) -> float:
    """Determinant of a tetrahedron as wide as a cell of the identity and as high as the last digit of a .cube."""
    return _FLAT / (size - 1) ** 2


def base_of_cells(size: int) -> NDArray[np.intp]:
    """((size - 1)^3,) index of the lattice point at the low corner of every cell, blue fastest."""
    return np.arange(size**3).reshape((size,) * 3)[:-1, :-1, :-1].ravel()


def paths(size: int) -> Array:
    """(6, 4) offsets of the corners of the six tetrahedra from the low corner of their cell."""
    step = (size * size, size, 1)
    return np.array([np.cumsum([0, *(step[a] for a in order)]) for order in permutations(range(3))])


def determinants(values: Array, size: int, base: NDArray[np.intp]) -> Array:
    """(M, 6) determinant of the edges of the tetrahedra of cells, by the cells' low corners ``base`` (M,).

    Edges stand in the order red, green, blue, so that the identity gives positive ones. Written out in products: no
    library decides the last bit.
    """
    out = np.empty((len(base), 6))
    for index, (order, path) in enumerate(zip(permutations(range(3)), paths(size), strict=True)):
        corner = [values[base + offset].T for offset in path]
        edge: list[Array] = [corner[0]] * 3
        for place, axis in enumerate(order):
            edge[axis] = corner[place + 1] - corner[place]
        (a, b, c), (d, e, f), (g, h, i) = edge
        out[:, index] = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    return out


class FoldBarrier:
    """Shrinks displacements until no tetrahedron turns over that does not in the plain lattice.

    Parameters
    ----------
    plain
        (N, 3) values of the plain lattice.
    size
        Its points per axis.
    run
        How to spread work over threads.
    """

    def __init__(self, plain: Array, size: int, run: Run) -> None:
        self._size, self._run = size, run
        self._base = base_of_cells(size)
        volume = self._over(np.round(plain, FILE_DIGITS), self._base)
        flat = flat_volume(size)
        # A flat one, in a clipped or black part, may stay so; what is turned already is left.
        floor = np.where(volume > flat, KEPT * volume, -flat)
        self._floor = np.where(volume < -flat, -np.inf, floor)

    def _over(self, values: Array, base: NDArray[np.intp]) -> Array:
        parts = parts_of(len(base))
        if not parts:
            return np.empty((0, 6))
        return np.concatenate(self._run(lambda part: determinants(values, self._size, base[part]), parts))

    def factors(self, values: Array, times_shrunk: NDArray[np.int16], cells: NDArray[np.intp] | None) -> Array | None:
        """(N,) factors for the displacements behind ``values``, or None where all is well.

        ``cells`` are those to look at (None: all); ``times_shrunk`` (N,) counts, and is changed.
        """
        which = np.arange(len(self._base)) if cells is None else cells
        low = self._over(np.round(values, FILE_DIGITS), self._base[which]) < self._floor[which]
        if not low.any():
            return None
        cell, kind = np.nonzero(low)
        out = np.ones(len(values))
        is_touched = np.zeros(len(values), bool)
        is_touched[self._base[which[cell]][:, None] + paths(self._size)[kind]] = True
        touched = np.flatnonzero(is_touched)
        times_shrunk[touched] += 1
        out[touched] = np.where(times_shrunk[touched] > _PATIENCE, 0.0, _SHRINK)
        return out

    def around(self, points: NDArray[np.intp]) -> NDArray[np.intp]:
        """Indices of the cells that have any of these lattice points for a corner."""
        n = self._size
        place = np.stack(np.unravel_index(points, (n, n, n)), axis=1)
        corner = np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)])
        low = (place[:, None, :] - corner).reshape(-1, 3)
        low = low[((low >= 0) & (low < n - 1)).all(axis=1)]
        found = np.zeros((n - 1) ** 3, bool)
        found[(low[:, 0] * (n - 1) + low[:, 1]) * (n - 1) + low[:, 2]] = True
        return np.flatnonzero(found)

    def held(self, displacement: Array, values_of: Values) -> Array:
        """Displacements whose lattice, as ``values_of`` makes it, passes the barrier.

        Where rounding alone would fold a tetrahedron its points end on their plain values.
        """
        counts = np.zeros(len(displacement), np.int16)
        cells: NDArray[np.intp] | None = None
        for _ in range(_MOST):
            factors = self.factors(values_of(displacement), counts, cells)
            if factors is None:
                return displacement
            displacement = displacement * factors[:, None]
            cells = self.around(np.flatnonzero(factors < 1.0))
        return np.zeros_like(displacement)
