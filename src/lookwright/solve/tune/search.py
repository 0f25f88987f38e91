"""Solutions of one tuning: from the start, from elsewhere, with levels insisted on, with open parameters put back."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lookwright.arrays import Array

from .goals import LEVEL_TOLERANCE, Levels
from .identify import NOTICED, UNKNOWN, worth
from .problem import RIDGE_OF_FEW, Problem
from .solver import solve

HIGH = {"pairs": 1.0}
"""Distances above which another start is tried: a good fit has no need of it. A reference of other content stays far
whatever the start, and levels that stay off cannot be had, not missed (measured: no start found better)."""
HOMING = 2.5
"""Residual of an open parameter a whole usual range from its start while it is put back, for each unit of what the
goals leave."""
AT_HOME = 0.03
"""Share of its usual range from its start within which a parameter so drawn is put back wholly."""
Soft = Sequence[tuple[float, int]]
SOFT_LIMITS: Soft = ((0.02, 14), (0.2, 8))
"""Shares of the weight of limits while the first solution is looked for, and the most evaluations with each. From the
first straight to whole weight a far solution comes back to where it started or behind: of
tests/benchmarks/tune_reference.py, rocket toward china then had -22 % of the transport's gain and flower toward chelsea
2 %; so 40 and 39 %."""
BY_DEGREES: Soft = ((0.02, 14), (0.06, 8), (0.2, 10), (0.5, 10))
"""The same in smaller steps: twice the work, for where the first way back came to nothing. rocket toward china, with
slopes differenced over .7 of a step, then has 42 % of that gain, where the first way ends behind the start."""
EXPECTED = 0.3
"""Share of the first distance that is taken for what will be left, until more is known: what frames of other content
leave (measured, see tests/benchmarks/tune_reference.py)."""
EASED = 0.6
"""Fall of what is left, as a factor, that is worth another round with the ridge that goes with it."""
ROUNDS = 6
"""Most such rounds: from the first guess to the floor in steps of :data:`EASED` takes four."""


class Search:
    """Solves a problem, and remembers how it went.

    Parameters
    ----------
    starts
        Most places to start from, the look's own values included.
    seed
        Of the others.
    """

    def __init__(self, problem: Problem, starts: int, seed: int) -> None:
        self.problem = problem
        self._most_starts, self._seed = starts, seed
        self.starts, self.evaluations = 1, 0
        self.path: list[Array] = []
        """Every better iterate of every solution, in order."""
        self.stopped = False
        """Whether the user ended it; from then on nothing is solved any more."""

    def solve(self, z: Array, which: Sequence[int] | None = None, most: int = 60) -> Array:
        """From z over the parameters ``which`` (all when None)."""
        if self.stopped:
            return z
        found = solve(self.problem, z, which, most)
        self.evaluations += found.evaluations
        self.stopped |= found.stopped
        self.path += found.path
        return found.z

    def _solve_softly(self, z: Array, soft: Soft = SOFT_LIMITS) -> tuple[Array, float]:
        """First with limits that give way, so that a step may cross one on its way; then by degrees as they are."""
        barrier = self.problem.barrier
        if barrier is None or not self.problem.restrained:
            z = self.solve(z, most=14)
            return z, self.problem.at(z).misfit
        firm = barrier.weight
        try:
            for share, most in soft:
                barrier.weight = share * firm
                z = self.solve(z, most=most)
                # What is not watched may go far meanwhile, and the further the harder it is to bring back.
                barrier.join_failing(self.problem.model_at(z))
        finally:
            barrier.weight = firm
        here = self.problem.at(z)
        if self.problem.beyond(here.harm) == 0.0:
            return z, here.misfit
        z = self.solve(z, most=10)
        return z, self.problem.at(z).misfit

    def _ridge_for(self, share: float = 1.0) -> float:
        """The ridge that goes with ``share`` of what the data goals leave where the model stands.

        What a goal leaves is how far its data can be believed: as much as is left could also be moved by what the two
        contents do not share. Values anywhere in their usual ranges are then weighed against it as one weighs a guess
        against an observation (ridge regression, each by its own variance).
        """
        seen = self.problem.model.seen()
        left, pieces = 0.0, 0.0
        for g in self.problem.goals:
            if g.data and not isinstance(g, Levels):
                rows = g.residuals(seen[g.part])
                left += g.weight * max(g.floor**2, share**2 * float(rows @ rows))
                pieces += g.pieces
        return float(np.sqrt(left / pieces)) / UNKNOWN if pieces else RIDGE_OF_FEW

    def best(self, zero: Array, soft: Soft = SOFT_LIMITS) -> Array:
        """From the start, and from elsewhere while the distance stays high and that helps."""
        self.problem.model.move(zero)
        self.problem.ridge = self._ridge_for(EXPECTED)
        z, misfit = self._solve_softly(zero, soft)
        for _ in range(ROUNDS):
            if self.stopped or (ridge := self._ridge_for()) > EASED * self.problem.ridge:
                break
            self.problem.ridge = ridge
            z = self.solve(z, most=10)
            misfit = self.problem.at(z).misfit
        rng = np.random.default_rng([self._seed, len(zero)])
        bounds = np.array([f.bounds_z() for f in self.problem.model.free])
        while self.starts < self._most_starts and not self.stopped and self._high(z):
            # Half way from the start to a random place within the bounds: new, but not far out.
            away = 0.5 * (bounds[:, 0] + (bounds[:, 1] - bounds[:, 0]) * rng.random(len(zero)))
            again, other = self._solve_softly(away)
            self.starts += 1
            if other >= 0.97 * misfit:
                break
            z, misfit = again, other
        return z

    def _high(self, z: Array) -> bool:
        distances = self.problem.distances(z)
        return any(d > HIGH.get(name.split(",")[0], np.inf) for name, d in distances.items())

    def insist(self, z: Array, levels: Levels) -> Array:
        """Levels weigh more where all can be met so: they were asked for, kept colour and small moves were not."""
        weight = levels.weight
        for _ in range(3):
            off = np.abs(levels.off(self.problem.model.move(z)[levels.part]))
            if off.max() <= 0.9 * LEVEL_TOLERANCE or self.stopped:
                return z
            levels.weight *= 4.0
            trial = self.solve(z, most=8)
            off = np.abs(levels.off(self.problem.model.move(trial)[levels.part]))
            if off.max() <= LEVEL_TOLERANCE:
                return trial
        levels.weight = weight
        return z

    def put_back(self, z: Array) -> tuple[Array, list[int]]:
        """Put back all whose return the rest can make good; the rest follows. (z, put back)."""
        first = self.problem.at(z).misfit
        budget = NOTICED * (UNKNOWN * self.problem.ridge) ** 2
        wanted = worth(self.problem, z, budget)
        if wanted:
            trial, back = self._drawn_back(z, wanted, first)
            if self.problem.at(trial).misfit <= first + 1.5 * budget:  # what was foreseen is straight, pictures are not
                return trial, back
        return z, [i for i in range(len(z)) if z[i] == 0.0]

    def _drawn_back(self, z: Array, wanted: list[int], misfit: float) -> tuple[Array, list[int]]:
        """Draw ``wanted`` to their start, so that the others can take over what they did; which of them got there."""
        self.problem.own_ridge = np.zeros(len(z))
        self.problem.own_ridge[wanted] = HOMING * max(1.0, float(np.sqrt(misfit)))
        try:
            trial = self.solve(z, most=7)
        finally:
            self.problem.own_ridge = None
        back = [i for i in wanted if abs(trial[i]) < AT_HOME]
        trial = trial.copy()
        trial[back] = 0.0
        return self.solve(trial, [i for i in range(len(z)) if i not in back], most=5), back
