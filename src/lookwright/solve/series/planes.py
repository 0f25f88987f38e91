"""Planes that two frames share, from pairs of features: the fewest movements that explain the most of them.

Each pair of features alone says how the picture was moved, turned and enlarged, so every pair is tried and none is
drawn at random: the answer is the same each time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

PLANES = 6
"""Planes at most: walls, bench, what stands on it."""

FEWEST = 8
"""Features on a plane, at least: eight do not lie by chance within three pixels of one movement of six numbers."""

CLOSE = 3.0
"""Pixels by which a feature may miss its plane."""


def planes(a: Array, b: Array, zoom: Array, turn: Array) -> list[tuple[Array, NDArray[np.bool_]]]:
    """Movements from the second frame to the first.

    Parameters
    ----------
    a, b
        (n, 2) x and y of paired features in the first and the second frame, in pixels.
    zoom, turn
        (n,) size of the first frame's feature over the second's, and its turn, radians.

    Returns
    -------
    list
        Per plane a homography, (3, 3) on (x, y, 1), and which pairs (n,) lie on it; most first.
    """
    found: list[tuple[Array, NDArray[np.bool_]]] = []
    left = np.ones(len(a), bool)
    while len(found) < PLANES and left.sum() >= FEWEST:
        inside = _votes(a, b, zoom, turn, left)
        matrix = None
        # Votes may come from two planes of like size and turn: what lies far off is let go step by step.
        for times in (8.0, 5.0, 3.0, 2.0, 2.0, 2.0):
            if inside.sum() < FEWEST:
                break
            matrix = _affine(a[inside], b[inside])
            miss = _miss(matrix, a, b)
            inside = left & (miss < max(times * CLOSE, min(times, 4.0) / 4.0 * float(np.median(miss[inside]))))
        if matrix is None or inside.sum() < FEWEST:
            break
        if inside.sum() >= 2 * FEWEST:
            matrix, inside = _homography(matrix, a, b, inside, left)
        inside = left & (_miss(matrix, a, b) < CLOSE)
        if inside.sum() < FEWEST or not _sane(matrix):
            break
        found.append((matrix, inside))
        left &= ~inside
    return found


def through(matrix: Array, x: Array, y: Array) -> tuple[Array, Array]:
    """Points moved by a homography: x, y in, x, y out."""
    u, v, w = (m[0] * x + m[1] * y + m[2] for m in matrix)
    w = np.where(np.abs(w) < 1e-9, 1e-9, w)
    return u / w, v / w


def _votes(a: Array, b: Array, zoom: Array, turn: Array, left: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The pairs that agree with the one pair most others agree with."""
    at = np.flatnonzero(left)
    (ax, ay), (bx, by), size = a[at].T, b[at].T, np.log2(zoom[at])
    c, s = zoom[at] * np.cos(turn[at]), zoom[at] * np.sin(turn[at])
    best, most = np.zeros(len(at), bool), 0
    for k in range(len(at)):
        x, y = bx - bx[k], by - by[k]
        miss = np.hypot(ax[k] + c[k] * x - s[k] * y - ax, ay[k] + s[k] * x + c[k] * y - ay)
        # The size and turn of one feature are rough, so what lies further off may miss by more.
        agree = (miss < CLOSE + 0.12 * zoom[at[k]] * np.hypot(x, y)) & (np.abs(size - size[k]) < 0.6)
        count = int(np.count_nonzero(agree))
        if count > most:
            best, most = agree, count
    out = np.zeros(len(a), bool)
    out[at] = best
    return out


def _affine(a: Array, b: Array) -> Array:
    system = np.column_stack([b, np.ones(len(b))])
    return np.vstack([np.linalg.lstsq(system, a, rcond=None)[0].T, [0.0, 0.0, 1.0]])


def _homography(
    start: Array, a: Array, b: Array, inside: NDArray[np.bool_], left: NDArray[np.bool_]
) -> tuple[Array, NDArray[np.bool_]]:
    """Refined by the direct linear transform (Hartley, Zisserman 2004, 4.1), in coordinates near one."""
    matrix = start
    size = max(float(np.abs(a).max()), float(np.abs(b).max()), 1.0)
    scale = np.diag([1.0 / size, 1.0 / size, 1.0])
    for _ in range(4):
        (x, y), (u, v) = (b[inside] / size).T, (a[inside] / size).T
        one, none = np.ones_like(x), np.zeros_like(x)
        rows = np.concatenate(
            [
                np.column_stack([x, y, one, none, none, none, -u * x, -u * y, -u]),
                np.column_stack([none, none, none, x, y, one, -v * x, -v * y, -v]),
            ]
        )
        trial = np.linalg.inv(scale) @ np.linalg.svd(rows, full_matrices=False)[2][-1].reshape(3, 3) @ scale
        now = left & (_miss(trial, a, b) < CLOSE)
        if now.sum() < inside.sum() * 0.7 or not _sane(trial):
            break
        matrix, inside = trial, now
    return matrix, inside


def _miss(matrix: Array, a: Array, b: Array) -> Array:
    x, y = through(matrix, b[:, 0], b[:, 1])
    return np.asarray(np.hypot(x - a[:, 0], y - a[:, 1]))


def _sane(matrix: Array) -> bool:
    """A camera does not mirror, nor change size tenfold."""
    if not np.isfinite(matrix).all() or abs(matrix[2, 2]) < 1e-12:
        return False
    return 0.02 < float(np.linalg.det(matrix[:2, :2] / matrix[2, 2])) < 50.0
