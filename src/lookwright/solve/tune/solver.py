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

from lookwright.arrays import Array

from .barrier import FROM, FULL, NEAR, Barrier
from .goals import Goal
from .model import Function, Model

PULL = 0.01
"""Residual of one parameter moved by its whole usual range: ten thousand such moves weigh as one visible difference.
Weak enough not to bias what the pictures say, strong enough to choose between settings that look alike."""

PULL_TO_FEW = 1.0
"""The same where only levels or a separation are asked for: a handful of numbers does not say where thirty parameters
belong. A move by half a usual range then weighs as much as a level half a tolerance off; one that is good for several
tolerances, as exposure is, hardly feels it."""

STEP = 1e-4
"""Forward difference in z (a share of a parameter's usual range). The maps are smooth; the error is of this order."""

ENOUGH = 0.03**2
"""Three hundredths of a just visible difference: what is nearer is not looked for."""

LEAST_REACH = 0.3
"""Least bound on a step that is handed from one solution to the next."""

MOST_REACH = 4.0
"""Most that it may grow to."""

LONGEST = 0.4
"""Longest move of one parameter in a step, in usual ranges."""

DAMPING = 1e-3
"""Damping of each step as a share of the most effective parameter's slope."""

UPDATES = 6
"""Most steps running on slopes that were carried on instead of worked out."""

NEWTON = 40
"""Most Newton steps for one step; ten are usual."""

STEEPEST = 100.0
"""Slope of harm in z beyond which it is none, but a count that jumped within the difference."""

PRESSING = FROM - 0.02
"""Harm from which a limit counts as what keeps a solution where it is."""

LEAST_GAIN = 1e-3
"""Least share of the cost that a step must promise."""

POLISH = 12
"""Most bounded least squares for one step."""

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
    enough: float = ENOUGH
    """Sum of squares of goals and limits at which the solver stops."""
    reach: float = 2.0
    """Bound on what one parameter's part of a step may change, in residual; follows how straight the problem is."""
    _varied: dict[int, Function] = field(default_factory=dict)

    @property
    def restrained(self) -> bool:
        """Whether limits hold at all."""
        return self.barrier is not None and self.barrier.weight > 0

    def at(self, z: Array) -> Place:
        """Evaluate at z (n,)."""
        self.stand(z)
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
        self._varied.clear()
        self._steps: dict[int, float] = {}
        # One after the other: on arrays this small two threads wait for the interpreter and gain nothing (measured).
        for i in range(len(z)) if which is None else which:
            low, high = self.model.free[i].bounds_z()
            step = STEP if z[i] + STEP <= high or high - z[i] >= z[i] - low else -STEP
            seen, self._varied[i] = self.model.varied(i, z[i] + step)
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
        watch = self.barrier.watched[k]
        found = [(self.barrier.of(self._varied[i], watch) - harm) / self._steps[i] for i in which]
        slopes = np.stack(found, axis=1)
        return np.where(np.abs(slopes) < STEEPEST, slopes, 0.0)

    def curvature(self, z: Array) -> Array:
        """(n, n) half the second derivative of the cost about z: of goals, pull and the limits that press there."""
        here = self.at(z)
        jacobian = self.jacobian(z)
        rows = [jacobian]
        for k, harm in enumerate(here.harm):
            pressing = harm > PRESSING
            if pressing.any() and self.barrier is not None:
                scale = float(np.sqrt(self.barrier.weight)) / FULL
                rows.append(scale * self.slopes(k, harm, range(len(z)))[pressing])
        every = np.concatenate(rows)
        return every.T @ every

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
    while moving and count[0] < most and here.asked > problem.enough:
        exact = jacobian is None or limits is None or limits.wants_more(here)
        if jacobian is None or limits is None or exact:
            problem.stand(here.z)
            jacobian = problem.jacobian(here.z, moving)
            limits = _Limits(problem, here, moving)
            updates = 0
        # All that a step needs of a thousand rows. Not by QR: it asks LAPACK's threads many small things, each of which
        # waits for its turn when other programs are busy (measured: 8 ms alone, 260 ms beside two others).
        bent = _Parabola(jacobian.T @ jacobian, jacobian.T @ here.rows, here.cost - problem.over(here.harm))
        room = bounds - here.z[moving][:, None]
        effect = np.maximum(np.sqrt(np.diag(bent.square)), 1e-9)
        taken = False
        aim: _Sighted | _Limits = limits
        for _ in range(TRIES):
            span = np.minimum(LONGEST, reach / effect)[:, None]
            step, predicted = _step(bent, aim, np.clip(room, -span, span))
            if here.cost - predicted <= LEAST_GAIN * here.cost and aim is limits:
                break
            trial = here.z.copy()
            trial[moving] += step
            there = at(trial)
            if there.cost < here.cost:
                gain = (here.cost - there.cost) / (here.cost - predicted)
                longest = float(np.max(np.abs(step) * effect))
                if gain > 0.7:
                    reach = min(max(reach, 2.0 * longest), MOST_REACH)
                elif gain <= 0.2:
                    reach = 0.5 * longest
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
            if aim is limits and problem.over(there.harm) > problem.over(here.harm):
                # Ran into limits that bend, or that were not in sight from here: aim again at where they were met (the
                # second-order correction of Fletcher 1982).
                limits.see(there)
                aim = limits.met(there, step)
                continue
            aim = limits
            reach = 0.4 * min(reach, float(np.max(np.abs(step) * effect)))
            if not exact:  # carried-on slopes may be what is wrong
                break
        if taken and small >= 2:
            return
        if not taken:
            if exact:
                return
            jacobian = None


@dataclass(frozen=True)
class _Sighted:
    """Limits as a step sees them."""

    harm: Array
    """(m,) harm of the places looked at, at no step."""
    slopes: Array
    """(m, n) their slopes."""
    scale: float
    """Residual of a unit of harm beyond the limit."""


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
            if k not in self._harm and (harm > FROM).any():
                # The steps prepared for the slopes stand on the model as it is here.
                self._problem.stand(self._here.z)
                self._look(k)

    def met(self, there: Place, step: Array) -> _Sighted:
        """The limits as they were met ``step`` from here, carried back along the slopes."""
        harm = [there.harm[k] - self._slopes[k] @ step for k in self._harm]
        return _Sighted(np.concatenate([*harm, np.zeros(0)]), self.slopes, self.scale)

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


@dataclass(frozen=True)
class _Parabola:
    """Sum of squares of residuals that are straight in the step: value + 2 linear.step + step.square.step."""

    square: Array
    """(n, n) the Jacobian's columns multiplied with each other."""
    linear: Array
    """(n,) the same with the residuals."""
    value: float
    """At no step."""


def _step(bent: _Parabola, limits: _Sighted | _Limits, room: Array) -> tuple[Array, float]:
    """The step (n,) that the straightened problem wants within ``room`` (n, 2), and the cost it predicts.

    Least squares in a box with one-sided limits. First by projected Newton steps (Bertsekas 1982, "Projected Newton
    methods for optimization problems with simple constraints"): parameters held at the box by the slope stay, the
    others take a Newton step with the limits that are passed at present, shortened until the cost falls. They are
    quick, but may stall beside the box; then scipy's bounded least squares takes over, with the limits passed at each
    place, until no place in the box can be much better.
    """
    # A trace of damping, so that directions which change nothing are not walked along.
    damping = (DAMPING * max(float(np.sqrt(np.diag(bent.square).max())), 1e-9)) ** 2
    low, high = np.minimum(room[:, 0], 0.0), np.maximum(room[:, 1], 0.0)
    asked = _Asked(
        bent.square + damping * np.eye(len(bent.linear)),
        bent.linear,
        bent.value,
        limits.harm,
        limits.slopes,
        limits.scale,
    )
    step = _newton(asked, np.zeros(len(low)), low, high)
    step = _polished(asked, step, low, high)
    return step, asked.cost(step) - damping * float(step @ step)


@dataclass(frozen=True)
class _Asked:
    """The straightened problem of one step: a parabola and squares of what passes the limits."""

    square: Array
    linear: Array
    value: float
    harm: Array
    slopes: Array
    scale: float

    def beyond(self, step: Array) -> Array:
        """(m,) residual of each limit passed."""
        return self.scale * np.maximum(0.0, self.harm + self.slopes @ step - FROM)

    def cost(self, step: Array) -> float:
        """At a step (n,)."""
        over = self.beyond(step)
        return self.value + float(step @ (self.square @ step + 2.0 * self.linear) + over @ over)

    def slope(self, step: Array) -> Array:
        """(n,) half the gradient."""
        return np.asarray(
            self.square @ step + self.linear + self.scale * (self.slopes.T @ self.beyond(step)), np.float64
        )

    def shortened(self, step: Array, way: Array, low: Array, high: Array) -> Array | None:
        """The longest of ``step`` + 1, 1/2, 1/4 ... of ``way``, held in the box, that costs less; None if none."""
        now = self.cost(step)
        share = 1.0
        for _ in range(25):
            trial = np.clip(step + share * way, low, high)
            if self.cost(trial) < now - 1e-9 * abs(now):
                return trial
            share *= 0.5
        return None


def _newton(asked: _Asked, step: Array, low: Array, high: Array) -> Array:
    for _ in range(NEWTON):
        slope = asked.slope(step)
        held = ((step <= low) & (slope > 0.0)) | ((step >= high) & (slope < 0.0))
        go = np.flatnonzero(~held)
        active = asked.scale * asked.slopes[np.ix_(np.flatnonzero(asked.beyond(step) > 0.0), go)]
        if not len(go):
            break
        way = np.zeros_like(step)
        way[go] = -np.linalg.solve(asked.square[np.ix_(go, go)] + active.T @ active, slope[go])
        better = asked.shortened(step, way, low, high)
        if better is None:
            break
        step = better
    return step


def _polished(asked: _Asked, step: Array, low: Array, high: Array) -> Array:
    """From ``step`` on until nothing in the box can cost less by more than the share :data:`LEAST_GAIN`."""
    from scipy.optimize import lsq_linear

    for _ in range(POLISH):
        slope = asked.slope(step)
        # The cost is convex: it lies above its tangent, whose least value is at a corner (Frank and Wolfe 1956).
        gain = 2.0 * float(np.sum(np.maximum(slope * (step - low), slope * (step - high))))
        if gain <= LEAST_GAIN * abs(asked.cost(step)):
            break
        active = asked.scale * asked.slopes[asked.beyond(step) > 0.0]
        square = asked.square + active.T @ active
        triangle = np.linalg.cholesky(square).T  # a handful of rows with the same squares
        wanted = np.linalg.solve(triangle.T, square @ step - slope)
        box = (np.minimum(low, -1e-12), np.maximum(high, 1e-12))
        better = asked.shortened(step, lsq_linear(triangle, wanted, box, method="bvls").x - step, low, high)
        if better is None:
            break
        step = better
    return step
