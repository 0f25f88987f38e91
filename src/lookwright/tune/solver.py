"""Least squares over goals and a pull toward the start, under bounds and the limits of restraint.

A Gauss-Newton method with a trust region: each step solves the problem as it looks, made straight, at the present
place, bounds and limits included. scipy's ``least_squares`` was tried first: it knows bounds but not limits, runs into
them unseen and then stands still, and it begins slowly beside bounds, where many parameters start (measured: 14
evaluations to leave a start on its bounds; distances to references that barely moved).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..steps.base import Op
from .barrier import FROM, FULL, NEAR, Barrier
from .goals import Goal
from .model import Model

Array = NDArray[np.float64]

PULL = 0.01
"""Residual of one parameter moved by its whole usual range: ten thousand such moves weigh as one visible difference.
Weak enough not to bias what the pictures say, strong enough to choose between settings that look alike."""

PULL_TO_FEW = 0.3
"""The same where only levels or a separation are asked for: a handful of numbers does not say where thirty parameters
belong. A whole usual range then weighs as much as a level three tenths of a tolerance off."""

STEP = 1e-4
"""Forward difference in z (a share of a parameter's usual range). The maps are smooth; the error is of this order."""

ENOUGH = 0.03**2
"""Sum of squares of goals and limits at which the solver stops: three hundredths of a just visible difference."""

LEAST_REACH = 0.3
"""Least bound on a step that is handed from one solution to the next."""

LONGEST = 0.4
"""Longest move of one parameter in a step, in usual ranges."""

DAMPING = 1e-3
"""Damping of each step as a share of the most effective parameter's slope."""

SLOPED = 0.1
"""Harm under which slopes are not trusted: many measures are sizes, which have a corner at zero."""

UPDATES = 6
"""Most steps running on slopes that were carried on instead of worked out."""

NEWTON = 40
"""Most Newton steps for one step; ten are usual."""

TRIES = 8
"""Most trial steps from one place."""


@dataclass
class Place:
    """The problem at one z."""

    z: Array
    rows: Array
    """Residuals of goals (with weights) and pull."""
    harm: list[Array]
    """Of each measurement of the barrier."""
    asked: float
    """Sum of squares of goals and of what passes the limits."""
    cost: float
    """The same with the pull."""


@dataclass
class Problem:
    """Everything that the solver weighs, as functions of z."""

    model: Model
    goals: Sequence[Goal]
    barrier: Barrier | None
    pull: float = PULL
    draw: Array | None = None
    """(n,) a pull of each parameter's own, where some are to be drawn back to their start."""
    told: Callable[[float], None] = lambda cost: None
    """Called with the cost of each place that is better than those before."""
    reach: float = 2.0
    """Bound on what one parameter's part of a step may change, in residual; follows how straight the problem is."""
    _ops: dict[int, Op] = field(default_factory=dict)

    @property
    def restrained(self) -> bool:
        """Whether limits hold at all."""
        return self.barrier is not None and self.barrier.weight > 0

    def at(self, z: Array) -> Place:
        """Evaluate at z (n,)."""
        seen = self.model.move(z)
        self._base = [g.residuals(seen[g.part]) for g in self.goals]
        rows = [np.sqrt(g.weight) * r for g, r in zip(self.goals, self._base, strict=True)]
        harm: list[Array] = []
        if self.barrier is not None and self.restrained:
            harm = self.barrier.measure(self.model.function())
        pull = self.pulls() * z
        found = np.concatenate([*rows, pull])
        pulled = float(pull @ pull)
        cost = float(found @ found) + self.over(harm)
        return Place(z.copy(), found, harm, cost - pulled, cost)

    def pulls(self) -> Array:
        """(n,) pull of each parameter."""
        own = np.full(len(self.model.free), self.pull)
        return own if self.draw is None else np.maximum(own, self.draw)

    def stand(self, z: Array) -> None:
        """Set the model to z, as :meth:`jacobian` and :meth:`slopes` need it, without measuring restraint."""
        seen = self.model.move(z)
        self._base = [g.residuals(seen[g.part]) for g in self.goals]

    def over(self, harm: Sequence[Array]) -> float:
        """What harm beyond the limits costs."""
        if self.barrier is None or not harm:
            return 0.0
        return self.barrier.weight * sum(float(np.sum(np.maximum(0.0, (h - FROM) / FULL) ** 2)) for h in harm)

    def jacobian(self, z: Array, which: Sequence[int] | None = None, data_only: bool = False) -> Array:
        """d residuals / d z (rows, len(which)) by forward differences, each from its own step of the path on.

        With ``data_only`` the rows of data goals alone. The model must be at z.
        """
        base = self.model.seen()
        parts = [base[g.part] for g in self.goals]
        columns = []
        self._ops.clear()
        self._steps: dict[int, float] = {}
        # One after the other: on arrays this small two threads wait for the interpreter and gain nothing (measured).
        for i in range(len(z)) if which is None else which:
            low, high = self.model.free[i].bounds_z()
            step = STEP if z[i] + STEP <= high or high - z[i] >= z[i] - low else -STEP
            seen, self._ops[i] = self.model.varied(i, z[i] + step)
            self._steps[i] = step
            rows = [
                np.sqrt(g.weight) * g.differences(part, seen[g.part], at_base) / step
                for g, part, at_base in zip(self.goals, parts, self._base, strict=True)
                if g.data or not data_only
            ]
            if not data_only:
                pull = np.zeros(len(z))
                pull[i] = self.pulls()[i]
                rows.append(pull)
            columns.append(np.concatenate(rows) if rows else np.zeros(0))
        return np.stack(columns, axis=1)

    def slopes(self, k: int, harm: Array, which: Sequence[int]) -> Array:
        """d harm / d z (measures, len(which)) of measurement ``k``, at the place of the last :meth:`jacobian`."""
        assert self.barrier is not None
        measurement = self.barrier.measurements[k]
        found = [
            (self.barrier.of(self.model.function(i, self._ops[i]), measurement) - harm) / self._steps[i] for i in which
        ]
        return np.stack(found, axis=1)

    def distances(self, z: Array) -> dict[str, float]:
        """Each goal's own distance at z, in its own unit."""
        seen = self.model.move(z)
        return {g.name: g.distance(seen[g.part]) for g in self.goals}


@dataclass
class Solved:
    """Where the solver ended."""

    z: Array
    cost: float
    evaluations: int
    stopped: bool = False
    """True when the user stopped it: z is then the best so far."""
    way: list[Array] = field(default_factory=list)
    """Every better place on the way, z last."""


def solve(
    problem: Problem, z: Array, which: Sequence[int] | None = None, most: int = 30, tolerance: float = 1e-2
) -> Solved:
    """Least squares from z over the parameters ``which`` (all when None), the others held.

    Ends when a step gains less than the share ``tolerance`` twice running, when nothing visible is left to gain, or
    after ``most`` evaluations. A KeyboardInterrupt ends it too: the best so far is returned with ``stopped``.
    """
    moving = list(range(len(z))) if which is None else list(which)
    best: list[Place] = []
    count = [0]
    try:
        _descend(problem, z, moving, most, tolerance, best, count)
    except KeyboardInterrupt:
        if not best:  # before the first evaluation was over
            return Solved(z.copy(), float("inf"), count[0], True)
        problem.model.move(best[-1].z)
        return Solved(best[-1].z, best[-1].cost, count[0], True, [p.z for p in best])
    return Solved(best[-1].z, best[-1].cost, count[0], way=[p.z for p in best])


def _descend(
    problem: Problem, z: Array, moving: list[int], most: int, tolerance: float, best: list[Place], count: list[int]
) -> None:
    """The method itself; every better place goes to ``best``."""

    def at(where: Array) -> Place:
        count[0] += 1
        return problem.at(where)

    here = at(z)
    best.append(here)
    bounds = np.array([problem.model.free[i].bounds_z() for i in moving]).reshape(-1, 2)
    reach, small, updates = problem.reach, 0, 0
    jacobian: Array | None = None
    limits: _Limits | None = None
    while moving and count[0] < most and here.asked > ENOUGH:
        exact = jacobian is None or limits is None or limits.wants_more(here)
        if jacobian is None or limits is None or exact:
            problem.stand(here.z)
            jacobian = problem.jacobian(here.z, moving)
            limits = _Limits(problem, here, moving)
            updates = 0
        # A triangle stands for the thousands of rows: the same sums of squares for any step.
        q, r = np.linalg.qr(jacobian)
        rest = q.T @ here.rows
        outside = here.cost - problem.over(here.harm) - float(rest @ rest)
        room = bounds - here.z[moving][:, None]
        effect = np.maximum(np.sqrt((r**2).sum(axis=0)), 1e-9)
        taken = False
        for _ in range(TRIES):
            span = np.minimum(LONGEST, reach / effect)[:, None]
            step, predicted = _step(r, rest, outside, limits, np.clip(room, -span, span))
            if here.cost - predicted <= 1e-7 * here.cost:
                break
            trial = here.z.copy()
            trial[moving] += step
            there = at(trial)
            if there.cost < here.cost:
                gain = (here.cost - there.cost) / (here.cost - predicted)
                longest = float(np.max(np.abs(step) * effect))
                reach = max(reach, 2.0 * longest) if gain > 0.7 else reach if gain > 0.2 else 0.5 * longest
                # Where much is left that cannot be met, the last percent is not worth finding.
                least = tolerance * here.cost * (2.0 if here.asked > 1.0 else 1.0)
                small = small + 1 if here.cost - there.cost < least else 0
                # Slopes are carried on by what the step taught (Broyden 1965) while they predict well: an evaluation
                # costs a tenth of working them out again.
                updates += 1
                if 0.5 < gain < 2.0 and updates <= UPDATES:
                    jacobian = jacobian + np.outer(there.rows - here.rows - jacobian @ step, step) / (step @ step)
                    limits.carry_on(there, step)
                else:
                    jacobian = None
                here, taken = there, True
                best.append(here)
                problem.reach = max(reach, LEAST_REACH)
                problem.told(here.cost)
                break
            if count[0] >= most:
                return
            reach = 0.4 * min(reach, float(np.max(np.abs(step) * effect)))
            if not exact:  # carried-on slopes may be what is wrong
                break
            # Ran into a limit that was not in sight from here: look at it, and try again.
            limits.see(there)
        if taken and small >= 2:
            return
        if not taken:
            if exact:
                return
            jacobian = None


class _Limits:
    """Harm and its slopes at a place: those near their limits, and those that a trial ran into."""

    def __init__(self, problem: Problem, here: Place, moving: list[int]) -> None:
        self._problem, self._here, self._moving = problem, here, moving
        self._harm: dict[int, Array] = {}
        self._slopes: dict[int, Array] = {}
        for k, harm in enumerate(here.harm):
            if (harm > NEAR).any():
                self._look(k)

    @property
    def harm(self) -> Array:
        """(m,) harm of all places looked at."""
        return np.concatenate([*self._harm.values(), np.zeros(0)])

    @property
    def slopes(self) -> Array:
        """(m, n) their slopes."""
        return np.concatenate([*self._slopes.values(), np.zeros((0, len(self._moving)))])

    def wants_more(self, here: Place) -> bool:
        """Whether something has come near that no slopes are known of."""
        return any((harm > NEAR).any() and k not in self._harm for k, harm in enumerate(here.harm))

    def see(self, there: Place) -> None:
        """Look at what a trial ran into."""
        for k, harm in enumerate(there.harm):
            if k not in self._harm and ((harm > FROM) & (self._here.harm[k] > SLOPED)).any():
                # The steps prepared for the slopes stand on the model as it is here.
                self._problem.stand(self._here.z)
                self._look(k)

    def carry_on(self, there: Place, step: Array) -> None:
        """Move to a new place, slopes brought up to date by the step that led there."""
        for k, slopes in self._slopes.items():
            missed = there.harm[k] - self._harm[k] - slopes @ step
            self._slopes[k] = slopes + np.outer(missed, step) / (step @ step)
            self._harm[k] = there.harm[k]
        self._here = there

    def _look(self, k: int) -> None:
        self._harm[k] = self._here.harm[k]
        self._slopes[k] = self._problem.slopes(k, self._here.harm[k], self._moving)

    @property
    def scale(self) -> float:
        """Residual of a unit of harm beyond the limit."""
        barrier = self._problem.barrier
        return float(np.sqrt(barrier.weight)) / FULL if barrier is not None else 0.0


def _step(r: Array, rest: Array, outside: float, limits: _Limits, room: Array) -> tuple[Array, float]:
    """The step (n,) that the straightened problem wants within ``room`` (n, 2), and the cost it predicts.

    Least squares in a box with one-sided limits. Begun by :func:`_first` where limits are about, then improved by
    projected Newton steps (Bertsekas 1982, "Projected Newton methods for optimization problems with simple
    constraints"): parameters held at the box by the slope stay, the others take a Newton step with the limits that are
    passed at present, shortened until the cost falls.
    """
    # A trace of damping, so that directions which change nothing are not walked along.
    damping = (DAMPING * max(float(np.sqrt((r**2).sum(axis=0).max())), 1e-9)) ** 2
    harm, slopes, weight = limits.harm, limits.slopes, limits.scale
    low, high = np.minimum(room[:, 0], 0.0), np.maximum(room[:, 1], 0.0)
    square = r.T @ r + damping * np.eye(r.shape[1])
    linear = r.T @ rest

    def passed(step: Array) -> Array:
        return weight * np.maximum(0.0, harm + slopes @ step - FROM)

    def cost(step: Array, beyond: Array) -> float:
        left = r @ step + rest
        return float(left @ left + damping * (step @ step) + beyond @ beyond)

    step = np.zeros(r.shape[1])
    if (harm > FROM - 0.5).any():
        step = _first(r, rest, damping, harm, slopes, weight, low, high)
    beyond = passed(step)
    now = cost(step, beyond)
    for _ in range(NEWTON):
        slope = square @ step + linear + weight * (slopes.T @ beyond)
        held = ((step <= low) & (slope > 0.0)) | ((step >= high) & (slope < 0.0))
        go = np.flatnonzero(~held)
        active = slopes[np.ix_(np.flatnonzero(beyond > 0.0), go)]
        if not len(go):
            break
        newton = np.zeros_like(step)
        newton[go] = -np.linalg.solve(square[np.ix_(go, go)] + weight**2 * active.T @ active, slope[go])
        share, then = 1.0, now
        for _ in range(25):
            trial = np.clip(step + share * newton, low, high)
            over = passed(trial)
            then = cost(trial, over)
            if then < now:
                break
            share *= 0.5
        if then >= now * (1.0 - 1e-9):
            break
        step, beyond, now = trial, over, then
    return step, now - damping * float(step @ step) + outside


def _first(
    r: Array, rest: Array, damping: float, harm: Array, slopes: Array, weight: float, low: Array, high: Array
) -> Array:
    """A good step: scipy's bounded least squares, with limits that a step passes counted the next time."""
    from scipy.optimize import lsq_linear

    over = harm > FROM
    count = r.shape[1]
    step = np.zeros(count)
    box = (np.minimum(low, -1e-12), np.maximum(high, 1e-12))
    for _ in range(6):
        matrix = np.concatenate([r, np.sqrt(damping) * np.eye(count), weight * slopes[over]])
        wanted = np.concatenate([-rest, np.zeros(count), weight * (FROM - harm[over])])
        step = lsq_linear(matrix, wanted, box, method="bvls", tol=1e-8).x
        new = over | (harm + slopes @ step > FROM)
        if np.array_equal(new, over):
            break
        over = new
    return np.clip(step, low, high)
