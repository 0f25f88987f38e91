"""The problem of one tuning: residuals of goals, a ridge toward the start, and limits of restraint, over z."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TypeVar

import numpy as np

from lookwright.arrays import Array
from lookwright.beside import each

from .barrier import FROM, FULL, Barrier, Measurement
from .goals import Goal
from .model import Model

T = TypeVar("T")

RIDGE = 0.01
"""Residual of one parameter moved by its whole usual range: ten thousand such moves weigh as one visible difference.
Weak enough not to bias what the pictures say, strong enough to choose between settings that look alike."""

RIDGE_OF_FEW = 1.0
"""The same where only levels or a separation are wanted: a handful of numbers does not say where thirty parameters
belong. A move by half a usual range then weighs as much as a level half a tolerance off; one that is good for several
tolerances, as exposure is, hardly feels it."""

DIFFERENCE = 1e-4
"""Forward difference in z (a share of a parameter's usual range). The maps are smooth; the error is of this order."""

ENOUGH = 0.03**2
"""Three hundredths of a just visible difference: what is nearer is not looked for."""

STEEPEST = 100.0
"""Slope of harm in z beyond which it is none, but a count that jumped within the difference. Without it, tuning to the
first six frames of tests/benchmarks/tune_reference.py has 65 % of the transport's gain in the mean instead of 75 %."""

PRESSING = FROM - 0.02
"""Harm from which a limit counts as what keeps a solution where it is."""


@dataclass
class Iterate:
    """The problem at one z."""

    z: Array
    residuals: Array
    """Of goals (with weights) and ridge."""
    harm: list[Array]
    """Of each measurement of the barrier."""
    misfit: float
    """Sum of squares of goals and of what passes the limits."""
    cost: float
    """The same with the ridge."""


@dataclass
class _Slopes:
    """Slopes at one place."""

    at: tuple[bytes, tuple[int, ...], tuple[float, ...]]
    """The place, what moves, and the weights of the goals."""
    goals: Array | None = None
    """(rows, parameters), without the ridge; None while not worked out."""
    limits: dict[int, Array] = field(default_factory=dict)
    """(measures, parameters) by measurement."""


@dataclass
class Problem:
    """Everything that the solver weighs, as functions of z."""

    model: Model
    goals: Sequence[Goal]
    barrier: Barrier | None
    ridge: float = RIDGE
    own_ridge: Array | None = None
    """(n,) a ridge of each parameter's own, where some are to go back to their start."""
    beside: bool = False
    """Whether slopes may be worked out on two cores."""
    report: Callable[[float], None] = lambda cost: None
    """Called with the cost of each iterate that is better than those before."""
    enough: float = ENOUGH
    """Misfit at which the solver stops."""
    _asked: dict[Measurement, list[Array]] = field(default_factory=dict)
    """Colours that each measurement of the barrier asked for when it was measured last."""
    _slopes: _Slopes | None = None

    @property
    def restrained(self) -> bool:
        """Whether limits hold at all."""
        return self.barrier is not None and self.barrier.weight > 0

    @property
    def limit_scale(self) -> float:
        """Residual of a unit of harm beyond the limit."""
        return float(np.sqrt(self.barrier.weight)) / FULL if self.barrier is not None else 0.0

    def at(self, z: Array) -> Iterate:
        """Evaluate at z (n,)."""
        self.move(z)
        rows = [np.sqrt(g.weight) * r for g, (_, r) in zip(self.goals, self._base, strict=True)]
        harm: list[Array] = []
        if self.barrier is not None and self.restrained:
            look = self.model.together(x for asked in self._asked.values() for x in asked)
            for watch in self.barrier.watched:
                here, self._asked[watch] = look.here(partial(self.barrier.of, measurement=watch))
                harm.append(here)
        ridge = self.ridges() * z
        residuals = np.concatenate([*rows, ridge])
        cost = float(residuals @ residuals) + self.beyond(harm)
        return Iterate(z.copy(), residuals, harm, cost - float(ridge @ ridge), cost)

    def ridges(self) -> Array:
        """(n,) ridge of each parameter."""
        every = np.full(len(self.model.free), self.ridge)
        return every if self.own_ridge is None else np.maximum(every, self.own_ridge)

    def move(self, z: Array) -> None:
        """Set the model to z, as :meth:`jacobian` and :meth:`slopes` need it, without measuring restraint."""
        seen = self.model.move(z)
        parts = [seen[g.part] for g in self.goals]
        self._base = [(part, g.residuals(part)) for g, part in zip(self.goals, parts, strict=True)]

    def model_at(self, z: Array) -> Callable[[Array], Array]:
        """The look at z, (n, 3) code values to (n, 3) code values."""
        self.move(z)
        return self.model.function()

    def beyond(self, harm: Sequence[Array]) -> float:
        """What harm beyond the limits costs."""
        if self.barrier is None or not harm:
            return 0.0
        return self.barrier.weight * sum(float(np.sum(np.maximum(0.0, (h - FROM) / FULL) ** 2)) for h in harm)

    def jacobian(self, z: Array, which: Sequence[int] | None = None, data_only: bool = False) -> Array:
        """d residuals / d z (rows, len(which)) by forward differences.

        With ``data_only`` the rows of data goals alone. The model must be at z.
        """
        moving = range(len(z)) if which is None else which
        columns = self.each(lambda i: self._goal_slopes(i, z, data_only), moving)
        return self._with_ridge(np.stack(columns, axis=1), moving) if not data_only else np.stack(columns, axis=1)

    def slopes(self, which: Sequence[int], here: Iterate, moving: Sequence[int]) -> dict[int, Array]:
        """d harm / d z (measures, len(moving)) of each of the measurements ``which``. The model must be at ``here``."""
        known = self._known_at(here.z, moving)
        new = [k for k in which if k not in known.limits]
        if new:
            known.limits |= _stacked(new, self.each(self._limit_slopes(new, here), moving))
        return {k: known.limits[k] for k in which}

    def linear(self, here: Iterate, moving: Sequence[int], which: Sequence[int]) -> tuple[Array, dict[int, Array]]:
        """:meth:`jacobian` and :meth:`slopes` of the measurements ``which`` at once."""
        known = self._known_at(here.z, moving)
        if known.goals is None:
            new = [k for k in which if k not in known.limits]
            limits = self._limit_slopes(new, here)
            both = self.each(lambda i: (self._goal_slopes(i, here.z), limits(i)), moving)
            known.goals = np.stack([goal for goal, _ in both], axis=1)
            known.limits |= _stacked(new, [limit for _, limit in both])
        return self._with_ridge(known.goals, moving), self.slopes(which, here, moving)

    def _known_at(self, z: Array, moving: Sequence[int]) -> _Slopes:
        """What is known of the slopes at z: one solution ends where the next begins."""
        at = z.tobytes(), tuple(moving), tuple(g.weight for g in self.goals)
        if self._slopes is None or self._slopes.at != at:
            self._slopes = _Slopes(at)
        return self._slopes

    def each(self, work: Callable[[int], T], moving: Sequence[int]) -> list[T]:
        """``work`` for each parameter, on two cores where that can be."""
        return each(work, moving) if self.beside else [work(i) for i in moving]

    def _goal_slopes(self, i: int, z: Array, data_only: bool = False) -> Array:
        """(rows,) d residuals of goals / d z_i, without the ridge."""
        step = self._difference(i, z)
        seen = self.model.varied(i, z[i] + step)
        rows = [
            np.sqrt(g.weight) * g.differences(base, seen[g.part], at_base) / step
            for g, (base, at_base) in zip(self.goals, self._base, strict=True)
            if g.data or not data_only
        ]
        return np.concatenate([*rows, np.zeros(0)])

    def _limit_slopes(self, which: Sequence[int], here: Iterate) -> Callable[[int], list[Array]]:
        """A function from a parameter to d harm / d z_i (measures,) of each measurement.

        Their colours go through the look together, once for each parameter.
        """
        if not which:
            return lambda i: []
        barrier = self.barrier
        assert barrier is not None
        looks = self.model.together(x for k in which for x in self._asked.get(barrier.watched[k], ()))

        def of(i: int) -> list[Array]:
            step = self._difference(i, here.z)
            look = looks.varied(self.model.parts(i, here.z[i] + step))
            return [(barrier.of(look, barrier.watched[k]) - here.harm[k]) / step for k in which]

        return of

    def _with_ridge(self, goals: Array, moving: Sequence[int]) -> Array:
        """Slopes of the goals with those of the ridge under them."""
        ridge = np.zeros((len(self.model.free), len(moving)))
        ridge[list(moving), range(len(moving))] = self.ridges()[list(moving)]
        return np.concatenate([goals, ridge])

    def _difference(self, i: int, z: Array) -> float:
        """The step of a difference quotient: forward, or backward where a bound is near."""
        low, high = self.model.free[i].bounds_z()
        return DIFFERENCE if z[i] + DIFFERENCE <= high or high - z[i] >= z[i] - low else -DIFFERENCE

    def curvature(self, z: Array) -> Array:
        """(n, n) half the second derivative of the cost about z: of goals, ridge and the limits that press there."""
        here = self.at(z)
        pressing = {k: harm > PRESSING for k, harm in enumerate(here.harm) if (harm > PRESSING).any()}
        goals, slopes = self.linear(here, range(len(z)), list(pressing))
        every = np.concatenate([goals, *(self.limit_scale * slopes[k][at] for k, at in pressing.items())])
        return every.T @ every

    def distances(self, z: Array) -> dict[str, float]:
        """Each goal's own distance at z, in its own unit."""
        seen = self.model.move(z)
        return {g.name: g.distance(seen[g.part]) for g in self.goals}


def _stacked(which: Sequence[int], columns: Sequence[Sequence[Array]]) -> dict[int, Array]:
    """Slopes of each measurement (measures, parameters), of those that are no jumps."""
    found = {k: np.stack([limits[at] for limits in columns], axis=1) for at, k in enumerate(which)}
    return {k: np.where(np.abs(slopes) < STEEPEST, slopes, 0.0) for k, slopes in found.items()}
