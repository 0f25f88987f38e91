"""Lookup between lattice points in float64: the exact reference that the fast path is tested against.

Source: Common LUT Format (Academy/ASC S-2014-006 v3.0, SMPTE ST 2136-1), appendix A. Two errors of the
published text are put right: the coefficients c4 and c6 written out for the trilinear form contradict
the matrix below them (the matrix is right), and its choice of tetrahedron by strict ">" sends every tie
to the last one. Sorting the fractions, as here, is the choice by ">=" and continuous across ties.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lookwright.arrays import Array
from lookwright.errors import LookwrightError, PictureError

from .lattice import Curves, Lattice

Interpolation = Literal["tetrahedral", "trilinear"]
INTERPOLATIONS: tuple[Interpolation, ...] = get_args(Interpolation)

_BLOCK = 1 << 16
"""Points worked on at once, so that memory does not grow with the picture."""


def check_interpolation(name: str) -> None:
    """Refuse a name other than ``tetrahedral`` or ``trilinear``."""
    if name not in INTERPOLATIONS:
        raise LookwrightError("interpolation", repr(name), " or ".join(INTERPOLATIONS))


def lookup(lattice: Lattice, points: ArrayLike, interpolation: str = "tetrahedral") -> Array:
    """Look colours up in a lattice.

    Parameters
    ----------
    lattice
        The 3D LUT.
    points
        (..., 3) input signal; values outside the lattice's domain (also infinities) are clamped to it.
    interpolation
        ``tetrahedral`` or ``trilinear``.

    Returns
    -------
    (..., 3) float64 output signal.

    Raises
    ------
    PictureError
        For NaN, which has no place in a lattice.
    """
    check_interpolation(interpolation)
    return {"tetrahedral": tetrahedral, "trilinear": trilinear}[interpolation](lattice, points)


def trilinear(lattice: Lattice, points: ArrayLike) -> Array:
    """Weighted mean of the eight corners of the cell; see :func:`lookup` for shapes and limits."""
    return _in_blocks(lattice, points, _trilinear)


def tetrahedral(lattice: Lattice, points: ArrayLike) -> Array:
    """Walk from the lowest to the highest corner along the largest fraction first; see :func:`lookup`."""
    return _in_blocks(lattice, points, _tetrahedral)


def linear(curves: Curves, points: ArrayLike) -> Array:
    """Look colours up in 1D curves, (..., 3) to (..., 3) float64; clamped to the domain, NaN refused."""
    values = _no_nan(points)
    out = np.empty_like(values)
    for c in range(3):
        at = np.linspace(curves.domain_min[c], curves.domain_max[c], curves.size)
        out[..., c] = np.interp(values[..., c], at, curves.table[:, c])
    return out


def _no_nan(points: ArrayLike) -> Array:
    values = np.asarray(points, dtype=np.float64)
    if np.isnan(values).any():
        raise PictureError("lookup", "NaN among the input values", "numbers", "mend the picture first")
    return values


_Kernel = Callable[[Array, int, NDArray[np.intp], Array], Array]


def _in_blocks(lattice: Lattice, points: ArrayLike, kernel: _Kernel) -> Array:
    values = _no_nan(points)
    flat = values.reshape(-1, 3)
    out = np.empty_like(flat)
    low, high = np.array(lattice.domain_min), np.array(lattice.domain_max)
    n = lattice.size
    nodes = lattice.table.reshape(-1, 3)
    for start in range(0, len(flat), _BLOCK):
        part = np.clip(flat[start : start + _BLOCK], low, high)
        place = (part - low) / (high - low) * (n - 1)
        # The last point belongs to the last cell (fraction 1), not to a cell beyond the table.
        cell = np.minimum(place.astype(np.intp), n - 2)
        base = (cell[:, 0] * n + cell[:, 1]) * n + cell[:, 2]
        out[start : start + _BLOCK] = kernel(nodes, n, base, place - cell)
    return out.reshape(values.shape)


def _trilinear(nodes: Array, n: int, base: NDArray[np.intp], fraction: Array) -> Array:
    r, g, b = (fraction[:, c, None] for c in range(3))
    out = np.zeros_like(fraction)
    for i in (0, 1):
        for j in (0, 1):
            for k in (0, 1):
                weight = (r if i else 1 - r) * (g if j else 1 - g) * (b if k else 1 - b)
                out += weight * nodes[base + (i * n + j) * n + k]
    return out


def _tetrahedral(nodes: Array, n: int, base: NDArray[np.intp], fraction: Array) -> Array:
    order = np.argsort(-fraction, axis=-1, kind="stable")
    along = np.take_along_axis(fraction, order, axis=-1)
    step = np.array([n * n, n, 1])[order]
    corner = nodes[base]
    out = corner.copy()
    for c in range(3):
        base = base + step[:, c]
        following = nodes[base]
        out += along[:, c, None] * (following - corner)
        corner = following
    return out
