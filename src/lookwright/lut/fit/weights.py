"""Both lookups as sparse matrices: what share every lattice point has in every looked-up value."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array


def _cells(size: int, points: Array) -> tuple[NDArray[np.int32], Array]:
    """(M,) low corner of each colour's cell, and (3, M) the colour's place within it, 0..1."""
    place = np.clip(points.T, 0.0, 1.0, order="C")
    place *= size - 1
    # The last point belongs to the last cell (fraction 1), not to a cell beyond the lattice.
    cell = np.minimum(place.astype(np.int32), size - 2)
    place -= cell
    return (cell[0] * size + cell[1]) * size + cell[2], place


def cell_of(size: int, points: Array) -> NDArray[np.int32]:
    """(M,) index of the lattice point at the low corner of each colour's cell."""
    return _cells(size, points)[0]


def trilinear_weights(size: int, points: Array) -> Any:
    """(M, size^3) scipy CSR matrix, eight shares a row, for (M, 3) colours in 0..1.

    The same formula and cells as :func:`lookwright.lut.lattices.interpolate.trilinear`.
    """
    return _csr(size, [_trilinear(size, *_cells(size, points))])


def tetrahedral_weights(size: int, points: Array) -> Any:
    """(M, size^3) scipy CSR matrix, four shares a row; as :func:`lookwright.lut.lattices.interpolate.tetrahedral`."""
    return _csr(size, [_tetrahedral(size, *_cells(size, points))])


def both_weights(size: int, points: Array) -> Any:
    """(2 M, size^3) scipy CSR matrix: :func:`trilinear_weights`, and below them :func:`tetrahedral_weights`."""
    cells = _cells(size, points)
    return _csr(size, [_trilinear(size, *cells), _tetrahedral(size, *cells)])


Parts = tuple[NDArray[np.int32], Array]
"""(M, W) lattice points of every row, and their shares."""


def _trilinear(size: int, base: NDArray[np.int32], fraction: Array) -> Parts:
    r, g, b = ((1.0 - f, f) for f in fraction)
    columns, shares = _room(len(base), 8)
    corner = 0
    for i in (0, 1):
        for j in (0, 1):
            of_two = r[i] * g[j]
            for k in (0, 1):
                np.add(base, (i * size + j) * size + k, out=columns[:, corner])
                np.multiply(of_two, b[k], out=shares[:, corner])
                corner += 1
    return columns, shares


def _tetrahedral(size: int, base: NDArray[np.int32], fraction: Array) -> Parts:
    """From the low corner along the channel with the largest fraction first; of equal ones red before green before
    blue."""
    r, g, b = fraction
    red, green, blue = size * size, size, 1
    less, more = np.minimum(r, g), np.maximum(r, g)
    low, high = np.minimum(less, b), np.maximum(more, b)
    columns, shares = _room(len(base), 4)
    columns[:, 0] = base
    columns[:, 1] = base + np.where(high == r, red, np.where(high == g, green, blue))
    columns[:, 3] = base + (red + green + blue)
    columns[:, 2] = columns[:, 3] - np.where(low == b, blue, np.where(low == g, green, red))
    middle = np.maximum(less, np.minimum(more, b))
    np.subtract(1.0, high, out=shares[:, 0])
    np.subtract(high, middle, out=shares[:, 1])
    np.subtract(middle, low, out=shares[:, 2])
    shares[:, 3] = low
    return columns, shares


def _room(rows: int, width: int) -> Parts:
    return np.empty((rows, width), np.int32), np.empty((rows, width))


def bends(size: int) -> Any:
    """(size^3, size^3) scipy CSR matrix K with v' K v = sum of squared second differences along the axes."""
    from scipy import sparse

    one = sparse.identity(size, format="csr")
    if size < 3:
        return sparse.csr_matrix((size**3, size**3))
    difference = sparse.diags([1.0, -2.0, 1.0], [0, 1, 2], shape=(size - 2, size), format="csr")
    line = (difference.T @ difference).tocsr()
    turns = ((line, one, one), (one, line, one), (one, one, line))
    return sum(sparse.kron(sparse.kron(x, y), z) for x, y, z in turns).tocsr()


def _csr(size: int, parts: Sequence[Parts]) -> Any:
    """Rows of the parts one below the other."""
    from scipy import sparse

    widths = np.concatenate([np.full(len(columns), columns.shape[1], np.int32) for columns, _ in parts])
    ends = np.zeros(len(widths) + 1, np.int32)
    np.cumsum(widths, out=ends[1:])
    index = np.concatenate([columns.ravel() for columns, _ in parts])
    shares = np.concatenate([shares.ravel() for _, shares in parts])
    return sparse.csr_matrix((shares, index, ends), shape=(len(widths), size**3))
