"""A small bounded Gauss-Newton for four parameters, the same on every machine.

Written here because a general solver costs more to import than this whole job takes on a still; the suite
holds it against scipy.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lookwright.arrays import Array


def solve(
    residual: Callable[[Array], Array], start: Array, low: Array, high: Array, scale: Array, rounds: int = 60
) -> tuple[Array, Array]:
    """Least squares within bounds by Levenberg-Marquardt (Marquardt 1963) with projected steps.

    ``scale`` is the size of a meaningful change of each parameter. Returns the parameters and the Jacobian there,
    per unit of parameter. ``residual`` must be finite within the bounds.
    """
    x = np.clip(start, low, high)
    r = residual(x)
    damping = 1e-3
    jac = _jacobian(residual, x, r, scale, low, high)
    for _ in range(rounds):
        scaled = jac * scale
        normal, gradient = scaled.T @ scaled, scaled.T @ r
        held = ((x <= low) & (gradient > 0)) | ((x >= high) & (gradient < 0))
        free = np.flatnonzero(~held)
        if free.size == 0:
            break
        system = normal[np.ix_(free, free)] + damping * np.diag(np.diag(normal)[free] + 1e-9)
        step = np.zeros_like(x)
        step[free] = -np.linalg.solve(system, gradient[free]) * scale[free]
        trial = np.clip(x + step, low, high)
        after = residual(trial)
        if after @ after < r @ r:
            done = np.all(np.abs(trial - x) < 1e-7 * scale)
            x, r = trial, after
            damping = max(damping * 0.3, 1e-9)
            jac = _jacobian(residual, x, r, scale, low, high)
            if done:
                break
        else:
            damping *= 5.0
            if damping > 1e8:
                break
    return x, jac


def _jacobian(residual: Callable[[Array], Array], x: Array, r: Array, scale: Array, low: Array, high: Array) -> Array:
    columns = []
    for i, s in enumerate(scale):
        h = 1e-5 * s
        if x[i] + h > high[i]:
            h = -h
        moved = x.copy()
        moved[i] += h
        columns.append((residual(moved) - r) / h)
    return np.stack(columns, axis=1)
