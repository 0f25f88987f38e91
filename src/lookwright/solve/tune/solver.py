"""Least squares over goals and a ridge toward the start, under bounds and the limits of restraint.

A Gauss-Newton method with a trust region (Nocedal & Wright, "Numerical Optimization", chapters 4 and 10): each step is
the least of a quadratic model of the cost at the iterate, bounds and limits included (:mod:`subproblem`). scipy's
``least_squares`` was tried first: it knows bounds but not limits, runs into them unseen and then stands still, and it
begins slowly beside bounds, where many parameters start (measured: 14 evaluations to leave a start on its bounds;
distances to references that barely moved).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from lookwright.arrays import Array

from .barrier import FROM, NEAR
from .problem import Iterate, Problem
from .subproblem import QuadraticModel, least

RADIUS = 2.0
"""First trust radius: what one parameter's part of a step may change, in residual."""

LONGEST = 0.4
"""Longest move of one parameter in a step, in usual ranges: one that hardly acts where it stands has no other bound."""

GOOD, POOR = 0.7, 0.2
"""Share of the predicted reduction that was had, above which the radius grows and up to which it shrinks. Without the
second, the first six frames of tests/benchmarks/tune_reference.py have 70 % of the transport's gain instead of 75 %."""

SECANT = (0.5, 2.0)
"""The same within which slopes are carried on by what the step taught, instead of worked out again."""

SECANTS = 6
"""Most steps running on slopes that were carried on."""

LEAST_REDUCTION = 1e-3
"""Least share of the cost that a step must promise."""

TRIALS = 8
"""Most trial steps from one iterate."""


@dataclass
class Solved:
    """Where the solver ended."""

    z: Array
    cost: float
    evaluations: int
    stopped: bool = False
    """True when the user stopped it: z is then the best so far."""
    path: list[Array] = field(default_factory=list)
    """Every better iterate on the way, z last."""


def solve(
    problem: Problem, z: Array, which: Sequence[int] | None = None, most: int = 30, tolerance: float = 1e-2
) -> Solved:
    """Least squares from z over the parameters ``which`` (all when None), the others held.

    Ends when a step gains less than the share ``tolerance`` twice running, or once on slopes just worked out that
    foretold it, when nothing visible is left to gain, or after ``most`` evaluations. A KeyboardInterrupt ends it too:
    the best so far is returned with ``stopped``.
    """
    moving = list(range(len(z))) if which is None else list(which)
    descent = _Descent(problem, moving, most, tolerance)
    stopped = False
    try:
        descent.run(z)
    except KeyboardInterrupt:
        stopped = True
        if not descent.path:  # before the first evaluation was over
            return Solved(z.copy(), float("inf"), descent.evaluations, True)
        problem.model.move(descent.path[-1].z)
    best = descent.path[-1]
    return Solved(best.z, best.cost, descent.evaluations, stopped, [p.z for p in descent.path])


class _Descent:
    """One run of the method."""

    def __init__(self, problem: Problem, moving: list[int], most: int, tolerance: float) -> None:
        self._problem, self._moving, self._most, self._tolerance = problem, moving, most, tolerance
        self._bounds = np.array([problem.model.free[i].bounds_z() for i in moving]).reshape(-1, 2)
        self._radius = RADIUS
        self.evaluations = 0
        self.path: list[Iterate] = []
        """Every better iterate, the present one last."""

    def _at(self, z: Array) -> Iterate:
        self.evaluations += 1
        return self._problem.at(z)

    def run(self, z: Array) -> None:
        """Descend from z."""
        self.path.append(self._at(z))
        slopes: Linearisation | None = None
        small = 0
        while self._moving and self.evaluations < self._most and self.path[-1].misfit > self._problem.enough:
            here = self.path[-1]
            if slopes is None or not slopes.knows(here):
                slopes = Linearisation(self._problem, here, self._moving)
            there, step, ratio = self._accepted(slopes)
            if there is None:
                if not slopes.carried:
                    return
                slopes = None  # carried-on slopes may be what is wrong
                continue
            small = small + 1 if here.cost - there.cost < self._tolerance * here.cost else 0
            self.path.append(there)
            self._problem.report(there.cost)
            if small >= 2 or (small and ratio > POOR and not slopes.carried):
                return
            if SECANT[0] < ratio < SECANT[1] and slopes.carried < SECANTS:
                slopes.carry(there, step)
            else:
                slopes = None

    def _accepted(self, slopes: Linearisation) -> tuple[Iterate | None, Array, float]:
        """The next iterate, the step to it and its actual reduction over the predicted; None where no step helps."""
        here = slopes.here
        limits = slopes.limits()
        corrected = False
        for _ in range(TRIALS):
            model = slopes.model(limits)
            effect = np.maximum(np.sqrt(np.diag(model.hessian)), 1e-9)
            step, predicted = least(model, *self._box(here.z[self._moving], effect))
            if here.cost - predicted <= LEAST_REDUCTION * here.cost and not corrected:
                break
            z = here.z.copy()
            z[self._moving] += step
            there = self._at(z)
            length = float(np.max(np.abs(step) * effect))
            if there.cost < here.cost:
                ratio = (here.cost - there.cost) / (here.cost - predicted)
                if ratio > GOOD:
                    self._radius = max(self._radius, 2.0 * length)
                elif ratio <= POOR:
                    self._radius = 0.5 * length
                return there, step, ratio
            if self.evaluations >= self._most:
                break
            if not corrected and self._problem.beyond(there.harm) > self._problem.beyond(here.harm):
                # Ran into limits that bend, or that were not in sight from here: aim again at where they were met (the
                # second-order correction of Fletcher 1982).
                slopes.see(there)
                limits, corrected = slopes.met(there, step), True
                continue
            limits, corrected = slopes.limits(), False
            self._radius = 0.4 * min(self._radius, length)
            if slopes.carried:
                break
        return None, np.zeros(0), 0.0

    def _box(self, z: Array, effect: Array) -> tuple[Array, Array]:
        """Bounds of a step from z (k,): those of the parameters, and the trust region."""
        span = np.minimum(LONGEST, self._radius / effect)
        lower, upper = self._bounds.T - z
        return np.maximum(np.minimum(lower, 0.0), -span), np.minimum(np.maximum(upper, 0.0), span)


class Linearisation:
    """Residuals and limits about an iterate: slopes of goals, and of those limits that are near or were run into."""

    def __init__(self, problem: Problem, here: Iterate, moving: list[int]) -> None:
        self._problem, self._moving = problem, moving
        self.here = here
        self.carried = 0
        """How many steps ago the slopes were worked out."""
        problem.move(here.z)
        near = [k for k, harm in enumerate(here.harm) if (harm > NEAR).any()]
        self._jacobian, self._slopes = problem.linear(here, moving, near)

    def knows(self, here: Iterate) -> bool:
        """Whether the slopes of all that is near are known."""
        return all(k in self._slopes for k, harm in enumerate(here.harm) if (harm > NEAR).any())

    def limits(self) -> Array:
        """(m,) harm of the limits looked at."""
        return np.concatenate([*(self.here.harm[k] for k in self._slopes), np.zeros(0)])

    def see(self, there: Iterate) -> None:
        """Look at what a trial ran into."""
        new = [k for k, harm in enumerate(there.harm) if k not in self._slopes and (harm > FROM).any()]
        if new:
            self._problem.move(self.here.z)
            self._slopes |= self._problem.slopes(new, self.here, self._moving)

    def met(self, there: Iterate, step: Array) -> Array:
        """(m,) harm of the limits as they were met ``step`` from here, carried back along the slopes."""
        return np.concatenate([*(there.harm[k] - slopes @ step for k, slopes in self._slopes.items()), np.zeros(0)])

    def model(self, limits: Array) -> QuadraticModel:
        """The quadratic model, with limits (m,) as they are here or were met."""
        return QuadraticModel(
            self._jacobian.T @ self._jacobian,
            self._jacobian.T @ self.here.residuals,
            self.here.cost - self._problem.beyond(self.here.harm),
            limits,
            np.concatenate([*self._slopes.values(), np.zeros((0, len(self._moving)))]),
            self._problem.limit_scale,
        )

    def carry(self, there: Iterate, step: Array) -> None:
        """Move to the next iterate, slopes brought up to date by the step to it (Broyden 1965)."""

        def update(slopes: Array, change: Array) -> Array:
            return np.asarray(slopes + np.outer(change - slopes @ step, step) / (step @ step), np.float64)

        self._jacobian = update(self._jacobian, there.residuals - self.here.residuals)
        for k in self._slopes:
            self._slopes[k] = update(self._slopes[k], there.harm[k] - self.here.harm[k])
        self.here = there
        self.carried += 1
