"""A lattice must not fold where the look does not: every tetrahedron keeps its orientation and some of its volume.

A tetrahedral lookup is straight within each of the six tetrahedra of a cell, so the sign of the determinant of their
edges is exactly whether colours there change places.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import permutations, product

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .threads import Run, parts_of

Places = NDArray[np.intp] | slice
"""Some of the lattice points."""
Values = Callable[[Array, Places], Array]
"""Displacements (M, 3) of such lattice points to the values that are written for them, rounded."""

KEPT = 0.25
"""Share of its volume in the plain lattice that a tetrahedron keeps. A share, because near black and in the shoulder
looks compress, and a fixed floor would forbid what is meant."""
FILE_DIGITS = 6
"""Decimals of a .cube: volumes are those that the file has."""
_SHRINK, _PATIENCE, _MOST = 0.5, 3, 1000
"""Displacements round a fold shrink by this factor so many times, then vanish; passes in all, of which all but the
first look at few cells."""
_AT_ONCE = 1 << 12
"""Cells worked on at once: what stands between then stays in the cache."""
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
    return _of_corners([np.ascontiguousarray(values[base + offset].T) for offset in corners_of(size)]).T


def corners_of(size: int) -> list[int]:
    """The eight corners of a cell, as offsets from the low one; bits of their number are red, green and blue."""
    return [(i * size + j) * size + k for i in (0, 1) for j in (0, 1) for k in (0, 1)]


def _of_corners(corner: Sequence[Array]) -> Array:
    """(6, ...) determinants from the eight corners (3, ...) of cells."""
    out = np.empty((6, *corner[0].shape[1:]))
    known: dict[tuple[int, int], Array] = {}
    for index, order in enumerate(permutations(range(3))):
        edge: list[Array] = [corner[0]] * 3
        start = 0
        for axis in order:
            end = start + (4 >> axis)
            if (start, end) not in known:
                known[start, end] = corner[end] - corner[start]
            edge[axis], start = known[start, end], end
        (a, b, c), (d, e, f), (g, h, i) = edge
        out[index] = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
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
        volume = self._everywhere(np.ascontiguousarray(np.round(plain, FILE_DIGITS).T))
        flat = flat_volume(size)
        # A flat one, in a clipped or black part, may stay so; what is turned already is left.
        floor = np.where(volume > flat, KEPT * volume, -flat)
        self._floor = np.where(volume < -flat, -np.inf, floor)

    def _everywhere(self, values: Array) -> Array:
        """(6, cells) determinants of a whole lattice, values (3, N)."""
        n = self._size
        field = values.reshape(3, n, n, n)
        layers = parts_of(n - 1, max(1, _AT_ONCE // (n - 1) ** 2))

        def one(layer: slice) -> Array:
            low, high = slice(0, n - 1), slice(1, n)
            red = (layer, slice(layer.start + 1, layer.stop + 1))
            corner = [field[:, i, j, k] for i in red for j in (low, high) for k in (low, high)]
            return _of_corners(corner).reshape(6, -1)

        return np.concatenate(self._run(one, layers), axis=1)

    def _at(self, values: Array, cells: NDArray[np.intp]) -> Array:
        """(6, M) determinants in some cells."""
        corners = corners_of(self._size)

        def one(part: slice) -> Array:
            base = self._base[cells[part]]
            return _of_corners([np.take(values, base + offset, axis=1) for offset in corners])

        parts = parts_of(len(cells), _AT_ONCE)
        return np.concatenate(self._run(one, parts), axis=1) if parts else np.empty((6, 0))

    def _touched(self, values: Array, cells: NDArray[np.intp] | None) -> NDArray[np.intp]:
        """The lattice points of tetrahedra that turn over, of those in ``cells``; None: in all."""
        volume = self._everywhere(values) if cells is None else self._at(values, cells)
        low = volume < (self._floor if cells is None else self._floor[:, cells])
        kind, cell = np.nonzero(low)
        which = cell if cells is None else cells[cell]
        is_touched = np.zeros(values.shape[1], bool)
        is_touched[self._base[which][:, None] + paths(self._size)[kind]] = True
        return np.flatnonzero(is_touched)

    def around(self, points: NDArray[np.intp]) -> NDArray[np.intp]:
        """Indices of the cells that have any of these lattice points for a corner."""
        n = self._size
        point = np.zeros((n, n, n), bool)
        point.reshape(-1)[points] = True
        sides = (slice(0, n - 1), slice(1, n))
        cell = np.zeros((n - 1, n - 1, n - 1), bool)
        for i, j, k in product(sides, repeat=3):
            cell |= point[i, j, k]
        return np.flatnonzero(cell)

    def held(self, displacement: Array, values_of: Values) -> Array:
        """Displacements whose lattice, as ``values_of`` makes it, passes the barrier.

        Where rounding alone would fold a tetrahedron its points end on their plain values.
        """
        displacement = displacement.copy()
        times_shrunk = np.zeros(len(displacement), np.int16)
        values = np.ascontiguousarray(np.round(values_of(displacement, slice(None)), FILE_DIGITS).T)
        cells: NDArray[np.intp] | None = None
        for _ in range(_MOST):
            touched = self._touched(values, cells)
            if not len(touched):
                return displacement
            times_shrunk[touched] += 1
            displacement[touched] *= np.where(times_shrunk[touched] > _PATIENCE, 0.0, _SHRINK)[:, None]
            values[:, touched] = np.round(values_of(displacement[touched], touched), FILE_DIGITS).T
            cells = self.around(touched)
        return np.zeros_like(displacement)
