"""Local behaviour of a colour function: its Jacobian, how far it magnifies, and whether it turns space inside out.

By central differences. Their error for a smooth function is step^2/6 times its third derivative: below 1e-7 for the
curves met here at the default step (tests/units).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

Function = Callable[[Array], Array]

HALF_CODE = 0.5 / 1023.0
"""Default step to either side: together one 10-bit code, the smallest change that the pictures can hold."""


def jacobian(function: Function, at: Array, step: float = HALF_CODE) -> Array:
    """Derivatives of a function of (..., 3).

    Parameters
    ----------
    function
        (n, 3) float64 to (n, 3).
    at
        (..., 3) points. The function is evaluated ``step`` to either side along each axis.

    Returns
    -------
    (..., 3, 3) float64, indexed [out, in].
    """
    points = np.asarray(at, np.float64)
    moves = step * np.concatenate([np.eye(3), -np.eye(3)])
    around = points[..., None, :] + moves
    out = np.asarray(function(around.reshape(-1, 3)), np.float64).reshape(around.shape)
    return np.swapaxes((out[..., :3, :] - out[..., 3:, :]) / (2.0 * step), -1, -2)


def relative(after: Array, before: Array) -> Array:
    """The local map (..., 3, 3) from what ``before`` makes to what ``after`` makes of the same input: A B^-1.

    It does not depend on the space of the input. ``before`` must be invertible (see :func:`regular`).
    """
    return after @ np.linalg.inv(before)


def determinant(matrix: Array) -> Array:
    """Change of volume; below zero the map is inside out there."""
    return np.linalg.det(matrix)


def regular(matrix: Array, least: float = 0.02) -> NDArray[np.bool_]:
    """Where the smallest singular value is at least ``least`` of the largest: not clipped, not held at a boundary."""
    values = np.linalg.svd(matrix, compute_uv=False)
    return values[..., -1] >= least * np.maximum(values[..., 0], 1e-12)


def gain(matrix: Array) -> Array:
    """Largest singular value: the most that a small disturbance (noise) in any direction is magnified."""
    return np.asarray(np.linalg.svd(matrix, compute_uv=False)[..., 0], np.float64)
