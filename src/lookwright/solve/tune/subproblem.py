"""The step of one iteration: a quadratic model with one-sided limits, least within bounds.

The limits enter as squares of what passes them, so the model is convex and made of parabolas: where the set of limits
passed stays, it is one bounded linear least squares. Each is solved by scipy's ``lsq_linear``; the set is then brought
up to date, as in Newton's method for piecewise smooth functions. One ``lsq_linear`` with a slack a limit would say the
same at once, with ten times the unknowns: 6 s instead of 0.03 s for a step under a thousand limits (measured). Its
``bvls`` is an active-set method: it ends on a set, not on a tolerance, so releases of scipy differ by rounding alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array

from .barrier import FROM

DAMPING = 1e-3
"""Damping of each step as a share of the most effective parameter's slope (Levenberg 1944): directions that change
nothing are not walked along."""

ACCURACY = 1e-3
"""Share of the cost by which a step may be short of the best: the model it is best for is not better than that."""

SETS = 60
"""Most sets of limits tried for one step. The hardest of 150 steps toward references of other content took 18."""


@dataclass(frozen=True)
class QuadraticModel:
    """Cost of a step p, bounds aside: value + 2 gradient.p + p.hessian.p + |scale max(0, harm + slopes p - FROM)|^2."""

    hessian: Array
    """(n, n) half the second derivative of the sum of squares: J^T J."""
    gradient: Array
    """(n,) half its first: J^T r."""
    value: float
    """Sum of squares at no step."""
    harm: Array
    """(m,) harm of the limits at no step."""
    slopes: Array
    """(m, n) their slopes."""
    scale: float
    """Residual of a unit of harm beyond the limit."""

    def passed(self, step: Array) -> Array:
        """(m,) residual of each limit passed, 0 of the others."""
        return self.scale * np.maximum(0.0, self.harm + self.slopes @ step - FROM)

    def cost(self, step: Array) -> float:
        """Predicted at a step (n,)."""
        beyond = self.passed(step)
        return self.value + float(step @ (self.hessian @ step + 2.0 * self.gradient) + beyond @ beyond)

    def slope(self, step: Array) -> Array:
        """(n,) half the gradient at a step."""
        return np.asarray(
            self.hessian @ step + self.gradient + self.scale * (self.slopes.T @ self.passed(step)), np.float64
        )

    def damped(self) -> tuple[QuadraticModel, float]:
        """With a trace of damping, and how much."""
        damping = (DAMPING * max(float(np.sqrt(np.diag(self.hessian).max())), 1e-9)) ** 2
        hessian = self.hessian + damping * np.eye(len(self.gradient))
        return QuadraticModel(hessian, self.gradient, self.value, self.harm, self.slopes, self.scale), damping


def least(model: QuadraticModel, lower: Array, upper: Array) -> tuple[Array, float]:
    """The step (n,) of least cost, to :data:`ACCURACY`, within the bounds (n,), which hold 0; and its cost."""
    damped, damping = model.damped()
    step = np.zeros(len(lower))
    for _ in range(SETS):
        slope = damped.slope(step)
        # The cost is convex: it lies above its tangent, whose least value is at a corner (Frank and Wolfe 1956).
        gap = 2.0 * float(np.sum(np.maximum(slope * (step - lower), slope * (step - upper))))
        if gap <= ACCURACY * abs(damped.cost(step)):
            break
        way = _bounded_newton(damped, step, slope, lower, upper) - step
        step = np.clip(step + _along(damped, step, way) * way, lower, upper)
    return step, damped.cost(step) - damping * float(step @ step)


def _bounded_newton(model: QuadraticModel, step: Array, slope: Array, lower: Array, upper: Array) -> Array:
    """Least within the bounds of the parabola that the model is while the limits passed at ``step`` are passed."""
    from scipy.optimize import lsq_linear

    active = model.scale * model.slopes[model.passed(step) > 0.0]
    hessian = model.hessian + active.T @ active
    # A triangle with the same squares as a thousand rows. Not by QR: it asks LAPACK's threads many small things, each
    # of which waits for its turn when other programs are busy (measured: 8 ms alone, 260 ms beside two others).
    triangle = np.linalg.cholesky(hessian).T
    wanted = np.linalg.solve(triangle.T, hessian @ step - slope)
    box = np.minimum(lower, -1e-12), np.maximum(upper, 1e-12)  # some room between each two is a must there
    found = lsq_linear(triangle, wanted, box, method="bvls", max_iter=10 * len(step))
    return np.asarray(found.x, np.float64)


def _along(model: QuadraticModel, step: Array, way: Array) -> float:
    """The share 0..1 of ``way`` at which the cost, a convex chain of parabolas, is least: where its slope is 0."""
    at, toward = model.harm + model.slopes @ step - FROM, model.slopes @ way
    curved, straight = float(way @ model.hessian @ way), float(way @ (model.hessian @ step + model.gradient))

    def slope(t: float) -> float:
        return straight + t * curved + model.scale**2 * float(toward @ np.maximum(0.0, at + t * toward))

    if slope(1.0) <= 0.0:
        return 1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = -at / toward  # where a limit begins or ends to be passed
    joints = np.concatenate([[0.0], np.sort(ends[(ends > 0.0) & (ends < 1.0)]), [1.0]])
    first, last = 0, len(joints) - 1  # the slope rises: halve until it changes sign between neighbours
    while last - first > 1:
        middle = (first + last) // 2
        first, last = (first, middle) if slope(float(joints[middle])) > 0.0 else (middle, last)
    before, after = slope(float(joints[first])), slope(float(joints[last]))
    share = -before / (after - before) if after > before else 0.0
    return float(joints[first] + min(max(share, 0.0), 1.0) * (joints[last] - joints[first]))
