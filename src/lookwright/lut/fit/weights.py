"""Both lookups as sparse matrices: what share every lattice point has in every looked-up value."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array


def _cells(size: int, points: Array) -> tuple[NDArray[np.intp], Array]:
    place = np.clip(points, 0.0, 1.0) * (size - 1)
    cell = np.minimum(place.astype(np.intp), size - 2)
    base = (cell[:, 0] * size + cell[:, 1]) * size + cell[:, 2]
    return base, place - cell


def cell_of(size: int, points: Array) -> NDArray[np.intp]:
    """(M,) index of the lattice point at the low corner of each colour's cell."""
    return _cells(size, points)[0]


def trilinear_weights(size: int, points: Array) -> Any:
    """(M, size^3) scipy CSR matrix, eight shares a row, for (M, 3) colours in 0..1.

    The same formula and cells as :func:`lookwright.lut.lattices.interpolate.trilinear`.
    """
    base, fraction = _cells(size, points)
    r, g, b = fraction.T
    columns, shares = [], []
    for i in (0, 1):
        for j in (0, 1):
            for k in (0, 1):
                columns.append(base + (i * size + j) * size + k)
                shares.append((r if i else 1.0 - r) * (g if j else 1.0 - g) * (b if k else 1.0 - b))
    return _csr(size, columns, shares)


def tetrahedral_weights(size: int, points: Array) -> Any:
    """(M, size^3) scipy CSR matrix, four shares a row; as :func:`lookwright.lut.lattices.interpolate.tetrahedral`."""
    base, fraction = _cells(size, points)
    order = np.argsort(-fraction, axis=-1, kind="stable")
    along = np.take_along_axis(fraction, order, axis=-1)
    step = np.array([size * size, size, 1])[order]
    columns = [base]
    for c in range(3):
        columns.append(columns[-1] + step[:, c])
    shares = [
        1.0 - along[:, 0],
        along[:, 0] - along[:, 1],
        along[:, 1] - along[:, 2],
        along[:, 2],
    ]
    return _csr(size, columns, shares)


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


def _csr(size: int, columns: list[NDArray[np.intp]], shares: list[Array]) -> Any:
    from scipy import sparse

    rows, width = len(columns[0]), len(columns)
    index = np.stack(columns, axis=1).astype(np.int32).ravel()
    ends = np.arange(0, rows * width + 1, width, dtype=np.int32)
    return sparse.csr_matrix((np.stack(shares, axis=1).ravel(), index, ends), shape=(rows, size**3))
