"""The whole tuning: gather, solve, identify, hold against restraint, and say what happened."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.restraint.limits import check_limits
from lookwright.assess.restraint.scene import scene_colours
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look

from .alike import held_back, only_separation
from .barrier import Barrier
from .changes import changes
from .conflicts import explain
from .free import Free, free_parameters, with_values
from .gather import Gathered, Wishes, check_goals, gather
from .goals import Kept, Levels, LightKept
from .hold import Hold
from .light import stops_of_light
from .model import Model
from .outcome import Change, Outcome, Reached, failing_words
from .problem import RIDGE_OF_FEW, Problem
from .search import BY_DEGREES, Search

__all__ = ["Change", "Outcome", "Progress", "Reached", "failing_words", "tune"]

Progress = Callable[[str, float], None]
"""Called with (what is being done, best cost so far)."""

NOTHING = 0.9
"""Share of what the start leaves above which a solution has come to nothing, and another way is tried."""


def tune(
    look: Look,
    wishes: Wishes,
    lock: Sequence[str] = (),
    free: Sequence[str] = (),
    wide: bool = False,
    told: Progress = lambda what, cost: None,
    advance: Callable[[int], None] = lambda n: None,
) -> Outcome:
    """Tune a look.

    Parameters
    ----------
    look
        With its folder set, for relative file names. A look that gives log is tuned as it is shown: through the plain
        rendering.
    wishes
        Goals; see :class:`gather.Wishes`.
    lock, free, wide
        See :func:`free.free_parameters`. Of parameters that do the same one moves: :func:`alike.held_back`.
    told, advance
        Progress while solving; pictures read.

    Returns
    -------
    Outcome
        Deterministic for the same input and seed on one machine.

    Raises
    ------
    LookwrightError
        For goals that no work could reach; see :func:`gather.gather` and :func:`free.free_parameters`.
    """
    parameters = free_parameters(look, lock, free, wide)
    held = held_back(parameters, free, wishes)
    parameters = [f for f in parameters if f.name not in held]
    check_limits(look.limits, look.title or "look")
    check_goals(wishes)
    shown = View(look).look
    told("reading", 0.0)
    with ThreadPoolExecutor(1) as beside:
        # Decoding leaves the interpreter free.
        ready = beside.submit(_loaded)
        gathered = gather(wishes, shown.output.signal(), advance)
        ready.result()
    outcome = _Run(look, shown, parameters, gathered, wishes, told).outcome()
    outcome.held = held
    return outcome


def _loaded() -> None:
    """What takes a while to load, and is not needed for reading pictures."""
    from scipy.optimize import lsq_linear  # noqa: F401

    scene_colours()


class _Run:
    """The steps of one tuning, with what they share."""

    def __init__(
        self, look: Look, shown: Look, free: list[Free], gathered: Gathered, wishes: Wishes, report: Progress
    ) -> None:
        self.look, self.free, self.gathered, self.wishes, self.report = look, free, gathered, wishes, report
        self.model = Model(shown, free, gathered.codes)
        stills = [(path, gathered.codes[part]) for path, part in gathered.still_parts]
        self.barrier = Barrier(shown, wishes.weights.get("restraint", 1.0), stills)
        self._keep()
        self.levels = next((g for g in gathered.goals if isinstance(g, Levels)), None)
        self.problem = Problem(
            self.model,
            gathered.goals,
            self.barrier,
            RIDGE_OF_FEW,
            beside=True,
            report=lambda cost: report("solving", cost),
        )
        self.search = Search(self.problem, wishes.starts, wishes.seed)

    def _keep(self) -> None:
        """Where no goal speaks of colour, colour stays; where none speaks of light, lightness does."""
        wishes = self.wishes
        if not self.gathered.still_parts:
            return
        whole = slice(0, self.gathered.still_parts[-1][1].stop)
        if only_separation(wishes):
            self.gathered.goals.append(LightKept(whole, self.model.seen()[whole].lab[:, 0]))
        if wishes.pairs or wishes.references or wishes.separation is not None:
            return
        self.gathered.goals.append(Kept.of(whole, self.model.seen()[whole], wishes.weights.get("colour", 1.0)))

    def outcome(self) -> Outcome:
        """Solve, and say what happened."""
        zero = np.zeros(len(self.free))
        harm_before = self._harm(zero)
        distance_before, levels_before = self.problem.distances(zero), self._levels(zero)
        z, shift = self._solution(zero, Hold(self.search, self.barrier, harm_before))
        harm_after, distance_after = self._harm(z), self.problem.distances(z)
        targets = self._lit(z, self._targets(levels_before, self._levels(z)))
        conflicts = self._conflicts(z, targets)
        return Outcome(
            with_values(self.look, self.free, z),
            self.look,
            changes(self.problem, z, shift, informed=not self.search.stopped),
            {n: (distance_before[n], distance_after[n]) for n in distance_after},
            {g.name: g.words for g in self.gathered.goals},
            targets,
            conflicts,
            harm_before,
            harm_after,
            self.search.stopped,
            self.search.evaluations,
            self.search.starts,
            self.wishes.seed,
            list(self.gathered.notes),
            self.gathered,
        )

    def _solution(self, zero: Array, hold: Hold) -> tuple[Array, Array]:
        """The solution, tidied, and by how much putting parameters back moved each."""
        self.search.path.append(zero)
        try:
            z, before_return = self._solved(zero, hold)
        except KeyboardInterrupt:  # between two solutions; within one, the solver keeps its own best
            self.search.stopped = True
            self.problem.own_ridge = None
            z = before_return = hold.passing(self.search.path[-1], [])
        z = hold.tidied(z)
        return z, np.abs(z - before_return)

    def _solved(self, zero: Array, hold: Hold) -> tuple[Array, Array]:
        """The solution, and what it was before parameters were put back."""
        z = self._passing(zero, hold)
        if self.levels is not None:
            z = hold.passing(self.search.insist(z, self.levels), [])
        before_return = z
        if not self.search.stopped and any(g.data for g in self.gathered.goals):
            z, back = self.search.put_back(z)
            z = hold.passing(z, back)
        return z, before_return

    def _passing(self, zero: Array, hold: Hold) -> Array:
        """The solution within the limits; where the way back to them came to nothing, a second one by degrees."""
        firm = self.barrier.weight
        z, at_start = hold.passing(self.search.best(zero), []), self._left(zero)
        helped = at_start < 1.0 or self._left(z) < NOTHING * at_start
        if helped or self.search.stopped or not (self.wishes.references and self.problem.restrained):
            return z
        self.barrier.weight = firm
        other = hold.passing(self.search.best(zero, BY_DEGREES), [])
        return min(z, other, key=self._left)

    def _left(self, z: Array) -> float:
        return self.problem.at(z).misfit

    def _harm(self, z: Array) -> dict[str, float]:
        self.model.move(z)
        return self.barrier.all_harm(self.model.function())

    def _levels(self, z: Array) -> Array:
        """(targets,) percent of signal; empty where no level is wanted."""
        if self.levels is None:
            return np.zeros(0)
        return self.levels.levels(self.model.move(z)[self.levels.part])

    def _targets(self, before: Array, after: Array) -> list[Reached]:
        targets = self.levels.targets if self.levels is not None else ()
        several = len({t.still for t in targets}) > 1
        return [
            Reached(t.label(several), t.level, float(b), float(a), t.most)
            for t, b, a in zip(targets, before, after, strict=True)
        ]

    def _lit(self, z: Array, reached: list[Reached]) -> list[Reached]:
        """With the light that those lack which no grade brought there."""
        if self.levels is None or all(r.met for r in reached):
            return reached
        look, codes = with_values(self.model.look, self.free, z), self.model.codes[self.levels.part]
        return [
            r if r.met else replace(r, light=stops_of_light(look, codes[t.part], t.level))
            for t, r in zip(self.levels.targets, reached, strict=True)
        ]

    def _conflicts(self, z: Array, targets: list[Reached]) -> list[str]:
        if self.levels is None or self.search.stopped or all(t.met for t in targets):
            return []
        try:
            self.report("finding out which targets cannot be met together", 0.0)
            return explain(self.problem, self.levels, z, [t.label for t in targets])
        except KeyboardInterrupt:
            self.search.stopped = True
            return []
