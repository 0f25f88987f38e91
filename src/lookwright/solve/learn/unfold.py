"""A folded lattice mended by the least change: every tetrahedron keeps a volume, and the values move least.

Of all lattices without a fold the one nearest to the given one is looked for, in squares of displacement. The volumes
are made linear where the lattice stands, the least-distance problem that leaves (Lawson and Hanson 1974, "Solving Least
Squares Problems", chapter 23: from non-negative least squares) is solved for each group of touching tetrahedra, and so
on till no volume is short. Exact for a linear constraint; a few rounds for the cubic one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.lut.fit.folds import base_of_cells, determinants, paths
from lookwright.lut.lattices.lattice import grid

ROOM = 0.01
"""Least volume of a tetrahedron, of that of the identity's. Grades do press blacks together; a hundredth is still far
from the last digit of a file."""
_AIM = 1.02
"""Volumes are brought a little over the floor, so that rounding to the file's digits leaves them there."""
_ROUNDS = 12
_LARGEST = 300
"""Tetrahedra that hang together and are mended at once: 0.2 s."""
_EASED, _EASINGS = 0.85, 60
"""A fold that is too large or too tangled to be mended so has its displacements eased by this factor first, till the
rest can be; after so many times nothing of them is left."""


def folds(table: Array, room: float = 0.0) -> int:
    """Tetrahedra of a lattice (n, n, n, 3) with less than ``room`` of the identity's volume."""
    size = len(table)
    found = determinants(table.reshape(-1, 3), size, base_of_cells(size))
    return int((found * (size - 1) ** 3 < room).sum())


def unfolded(table: Array, room: float = ROOM) -> Array:
    """The nearest lattice (n, n, n, 3) whose every tetrahedron has ``room`` of the identity's volume.

    A large or tangled fold is first eased toward the identity where it lies; the nearest to what is left of it is
    then given.
    """
    size = len(table)
    identity = grid(size).reshape(-1, 3)
    start = table.reshape(-1, 3).copy()
    for _ in range(_EASINGS):
        now, short = _nearest(start, size, room)
        if not len(short):
            return now.reshape(table.shape)
        start[short] = identity[short] + _EASED * (start[short] - identity[short])
    return identity.reshape(table.shape)


def _nearest(start: Array, size: int, room: float) -> tuple[Array, NDArray[np.int64]]:
    """The nearest lattice (n^3, 3) that has room everywhere, and no points; or the points about the folds left."""
    base, offsets = base_of_cells(size), paths(size)
    scale = float(size - 1)
    now = start.copy()
    ever = np.zeros(0, np.int64)
    corners = np.zeros((0, 4), np.int64)
    for _ in range(_ROUNDS):
        short = np.flatnonzero((determinants(now, size, base) * scale**3).ravel() < room).astype(np.int64)
        if not len(short):
            return now, short
        ever = np.union1d(ever, short)
        corners = np.asarray(base[ever // 6][:, None] + offsets[ever % 6], np.int64)
        groups = groups_of(corners)
        if max(map(len, groups)) > _LARGEST:
            break
        for group in groups:
            _mend(now, start, corners[group], ever[group] % 6, room * _AIM, scale)
    return now, np.unique(corners)


def groups_of(corners: NDArray[np.int64]) -> list[NDArray[np.intp]]:
    """Indices of the tetrahedra (t, 4) that hang together by points."""
    from scipy import sparse
    from scipy.sparse.csgraph import connected_components

    points, place = np.unique(corners, return_inverse=True)
    rows = np.repeat(np.arange(len(corners)), 4)
    touch = sparse.csr_matrix((np.ones(rows.size), (rows, place.ravel())), shape=(len(corners), len(points)))
    _, label = connected_components(touch @ touch.T, directed=False)
    return [np.flatnonzero(label == k) for k in range(label.max() + 1)]


def _mend(
    now: Array, start: Array, corners: NDArray[np.int64], kind: NDArray[np.int64], room: float, scale: float
) -> None:
    """Move the points of some tetrahedra in ``now`` to where, linearly, they have room, nearest to ``start``."""
    from scipy.optimize import nnls

    points, place = np.unique(corners, return_inverse=True)
    place = place.reshape(corners.shape)
    volume, slope = volumes_and_slopes(now[corners] * scale, kind)
    rows = np.zeros((len(corners), len(points), 3))
    for c in range(4):
        np.add.at(rows, (np.arange(len(corners)), place[:, c]), slope[:, c])
    flat = rows.reshape(len(corners), -1)
    # Least distance: min |x|^2 with flat x >= want, x the move from start in units of a cell.
    want = room - volume + flat @ ((now - start)[points] * scale).ravel()
    square = np.concatenate([flat.T, want[None]])
    last = np.zeros(len(square))
    last[-1] = 1.0
    left = square @ nnls(square, last)[0] - last
    if left[-1] < -1e-12:
        now[points] = start[points] + (left[:-1] / -left[-1]).reshape(-1, 3) / scale


def volumes_and_slopes(corner: Array, kind: NDArray[np.int64]) -> tuple[Array, Array]:
    """Determinants (t,) of tetrahedra by their corners (t, 4, 3), and their slopes (t, 4, 3) with each corner."""
    from itertools import permutations

    order = np.array(list(permutations(range(3))))[kind]
    along = np.diff(corner, axis=1)  # edge k belongs to axis order[k]
    sign = np.linalg.det(np.eye(3)[order])
    volume = sign * np.einsum("ti,ti->t", along[:, 0], np.cross(along[:, 1], along[:, 2]))
    by_edge = sign[:, None, None] * np.stack(
        [np.cross(along[:, 1], along[:, 2]), np.cross(along[:, 2], along[:, 0]), np.cross(along[:, 0], along[:, 1])], 1
    )
    slope = np.zeros_like(corner)
    slope[:, :3] -= by_edge
    slope[:, 1:] += by_edge
    return volume, slope
