"""The whole tuning: gather, solve, identify, hold against restraint, and say what happened."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.skin import skin_scene
from lookwright.assess.restraint.limits import BY_NAME, check_limits
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look

from .barrier import Barrier
from .conflicts import explain
from .free import Free, free_parameters, with_values
from .gather import Gathered, Wishes, check_goals, gather
from .goals import LEVEL_TOLERANCE, Kept, Levels, level_met
from .identify import NOTICED, SIGMAS, SURE, UNKNOWN, information, worth
from .model import Model
from .solver import PULL_TO_FEW, Problem, solve

Status = Literal["determined", "tied", "open", "bound", "still"]

TOGETHER = 0.5
"""Correlation from which two parameters are said to be able to stand in for each other."""
MOVED = 0.001
"""Share of its usual range by which a parameter must have moved to be written."""
AT_BOUND = 0.002
"""Share of its usual range from a bound within which a parameter is on it: the solver stays inside by construction."""
HIGH = {"pairs": 1.0}
"""Distances above which another start is tried: a good fit has no need of it. A reference of other content stays far
whatever the start, and levels that stay off are out of reach, not missed (measured: no start found better)."""
HOMING = 0.5
"""Residual of an open parameter a whole usual range from its start while it is put back, for each unit of what the
goals leave."""
AT_HOME = 0.03
"""Share of its usual range from its start within which a parameter so drawn is put back wholly."""
SOFT_LIMITS = 0.02
"""Share of the weight of limits while the first solution is looked for."""
EXPECTED = 0.3
"""Share of the first distance that is taken for what will be left, until more is known: what frames of other content
leave (measured, see tests/benchmarks/tune_reference.py)."""
EASED = 0.6
"""Fall of what is left, as a factor, that is worth another round with the pull that goes with it."""
ROUNDS = 6
"""Most such rounds: from the first guess to the floor in steps of :data:`EASED` takes four."""


@dataclass(frozen=True)
class Change:
    """One parameter, before and after."""

    name: str
    unit: str
    before: float
    after: float
    status: Status
    """``determined``: within ``uncertainty``. ``tied``: moved, but more loosely known. ``open``: the data does not say;
    where it was. ``bound``: at a bound. ``still``: determined to be where it was."""
    uncertainty: float | None
    """Half width of the 95 % interval; None where the data gives none."""
    bound: str = ""
    """``lowest`` or ``highest`` when it is on a bound, with where the hard bound lies."""
    tied_to: str = ""
    effect: float = 0.0
    """How much the picture changes when this alone goes back to its start (Oklab x 100, root mean square)."""
    why: str = ""
    """The goal that gets worst without this move."""
    without: float = 0.0
    """That goal's distance without this move."""


@dataclass(frozen=True)
class Reached:
    """One level target."""

    label: str
    wanted: float
    before: float
    after: float
    most: bool = False
    """``wanted`` is the most it may be."""

    @property
    def met(self) -> bool:
        """Within the tolerance."""
        return level_met(self.after, self.wanted, self.most)

    @property
    def asked(self) -> str:
        """``45``, or ``15 or less``."""
        return f"{self.wanted:g}" + (" or less" if self.most else "")


@dataclass
class Outcome:
    """What tuning did."""

    look: Look
    """The tuned look, as text would give it."""
    start: Look
    changes: list[Change]
    goals: dict[str, tuple[float, float]]
    """Distance before and after, by goal."""
    goal_words: dict[str, str]
    targets: list[Reached]
    conflicts: list[str]
    """Sentences on targets that cannot be met, or not together."""
    harm_before: dict[str, float]
    harm_after: dict[str, float]
    """Measures of ``check``: 1 is the failing limit."""
    stopped: bool
    evaluations: int
    starts: int
    seed: int
    notes: list[str] = field(default_factory=list)
    gathered: Gathered | None = None

    @property
    def met(self) -> bool:
        """Whether every level target is met."""
        return all(t.met for t in self.targets)

    @property
    def passes(self) -> bool:
        """Whether no measure of restraint fails."""
        return not any(h > 1.0 for h in self.harm_after.values())


Progress = Callable[[str, float], None]
"""Told (what is being done, best cost so far)."""


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
        See :func:`free.free_parameters`.
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
    check_limits(look.limits, look.title or "look")
    check_goals(wishes)
    shown = View(look).look
    told("reading", 0.0)
    with ThreadPoolExecutor(1) as beside:
        # Spectra of skin come through a library that takes a second to import; decoding leaves the interpreter free.
        ready = beside.submit(skin_scene)
        gathered = gather(wishes, shown.output.signal(), advance)
        ready.result()
    return _Run(look, shown, parameters, gathered, wishes, told).outcome()


class _Run:
    """The steps of one tuning, with what they share."""

    def __init__(
        self, look: Look, shown: Look, free: list[Free], gathered: Gathered, wishes: Wishes, told: Progress
    ) -> None:
        self.look, self.free, self.gathered, self.wishes = look, free, gathered, wishes
        self.told = told
        self.model = Model(shown, free, gathered.codes)
        weight = wishes.weights.get("restraint", 1.0)
        parts = [(p, gathered.codes[s]) for p, s in gathered.still_parts]
        self.barrier = Barrier(shown, weight, parts)
        self._keep_colour(wishes)
        self.problem = Problem(
            self.model, gathered.goals, self.barrier, PULL_TO_FEW, told=lambda cost: told("solving", cost)
        )
        self.evaluations = 0
        self.way: list[Array] = []
        self.stopped = False
        self.starts = 1

    def _keep_colour(self, wishes: Wishes) -> None:
        """Where no goal speaks of colour, colour stays."""
        if wishes.pairs or wishes.references or wishes.separation is not None or not self.gathered.still_parts:
            return
        whole = slice(0, self.gathered.still_parts[-1][1].stop)
        self.gathered.goals.append(Kept.of(whole, self.model.seen()[whole], wishes.weights.get("colour", 1.0)))

    def outcome(self) -> Outcome:
        zero = np.zeros(len(self.free))
        self.model.move(zero)
        harm_before = self.barrier.all_harm(self.model.function())
        distance_before = self.problem.distances(zero)
        levels = next((g for g in self.gathered.goals if isinstance(g, Levels)), None)
        at_before = levels.levels(self.model.move(zero)[levels.part]) if levels else None
        self.way.append(zero)
        try:
            z, found = self._found(zero, levels, harm_before)
        except KeyboardInterrupt:  # between two solutions; within one, the solver keeps its own best
            self.stopped = True
            self.problem.draw = None
            z = found = self._restrain(self.way[-1], [], harm_before)
        z = self._tidy(z, harm_before)
        seen = self.model.move(z)
        harm_after = self.barrier.all_harm(self.model.function())
        goals = self.problem.distances(z)
        targets = []
        if levels is not None and at_before is not None:
            several = len({t.still for t in levels.targets}) > 1
            after = levels.levels(seen[levels.part])
            for t, b, a in zip(levels.targets, at_before, after, strict=True):
                targets.append(Reached(t.label(several), t.level, float(b), float(a), t.most))
        conflicts: list[str] = []
        if levels is not None and not self.stopped and not all(t.met for t in targets):
            try:
                self.told("finding out which targets cannot be met together", 0.0)
                conflicts = explain(self.problem, levels, z, [t.label for t in targets])
            except KeyboardInterrupt:
                self.stopped = True
        changes = self._changes(z, np.abs(z - found))
        tuned = with_values(self.look, self.free, z)
        return Outcome(
            tuned,
            self.look,
            changes,
            {n: (distance_before[n], goals[n]) for n in goals},
            {g.name: g.words for g in self.gathered.goals},
            targets,
            conflicts,
            harm_before,
            harm_after,
            self.stopped,
            self.evaluations,
            self.starts,
            self.wishes.seed,
            list(self.gathered.notes),
            self.gathered,
        )

    def _found(self, zero: Array, levels: Levels | None, before: dict[str, float]) -> tuple[Array, Array]:
        """The solution, and what it was before parameters were put back."""
        z = self._restrain(self._search(zero), [], before)
        if levels is not None:
            z = self._restrain(self._insist(z, levels), [], before)
        found = z
        if not self.stopped and any(g.data for g in self.gathered.goals):
            z, back = self._identify(z)
            z = self._restrain(z, back, before)
        return z, found

    def _solve(self, z: Array, which: Sequence[int] | None = None, most: int = 60) -> tuple[Array, float]:
        if self.stopped:
            return z, self.problem.at(z).cost
        found = solve(self.problem, z, which, most)
        self.evaluations += found.evaluations
        self.stopped |= found.stopped
        self.way += found.way
        return found.z, found.cost

    def _solve_softly(self, z: Array) -> tuple[Array, float]:
        """First with limits that give way, so that a step may cross one on its way; then with limits as they are."""
        firm = self.barrier.weight
        self.barrier.weight = SOFT_LIMITS * firm
        try:
            z, _ = self._solve(z, most=14)
        finally:
            self.barrier.weight = firm
        here = self.problem.at(z)
        if self.barrier.weight <= 0 or self.problem.over(here.harm) == 0.0:
            return z, here.asked
        z, _ = self._solve(z, most=10)
        return z, self.problem.at(z).asked

    def _pull_for(self, share: float = 1.0) -> float:
        """The pull toward the start that goes with ``share`` of what the data goals leave where the model stands.

        What a goal leaves is how far its data can be believed: as much as is left could also be moved by what the two
        contents do not share. Values anywhere in their usual ranges are then weighed against it as one weighs a guess
        against an observation (ridge regression, each by its own variance).
        """
        seen = self.model.seen()
        left, pieces = 0.0, 0.0
        for g in self.gathered.goals:
            if g.data and not isinstance(g, Levels):
                rows = g.residuals(seen[g.part])
                left += g.weight * max(g.floor**2, share**2 * float(rows @ rows))
                pieces += g.pieces
        return float(np.sqrt(left / pieces)) / UNKNOWN if pieces else PULL_TO_FEW

    def _search(self, zero: Array) -> Array:
        """From the start, and from elsewhere while the distance stays high and that helps."""
        self.model.move(zero)
        self.problem.pull = self._pull_for(EXPECTED)
        z, cost = self._solve_softly(zero)
        for _ in range(ROUNDS):
            if self.stopped or (pull := self._pull_for()) > EASED * self.problem.pull:
                break
            self.problem.pull = pull
            z, _ = self._solve(z, most=10)
            cost = self.problem.at(z).asked
        rng = np.random.default_rng([self.wishes.seed, len(self.free)])
        bounds = np.array([f.bounds_z() for f in self.free])
        while self.starts < self.wishes.starts and not self.stopped and self._high(z):
            # Half way from the start to a random place within the bounds: new, but not far out.
            away = 0.5 * (bounds[:, 0] + (bounds[:, 1] - bounds[:, 0]) * rng.random(len(self.free)))
            again, other = self._solve_softly(away)
            self.starts += 1
            if other >= 0.97 * cost:
                break
            z, cost = again, other
        return z

    def _insist(self, z: Array, levels: Levels) -> Array:
        """Levels weigh more where all can be met so: they were asked for, kept colour and small moves were not."""
        asked = levels.weight
        for _ in range(3):
            off = np.abs(levels.off(self.model.move(z)[levels.part]))
            if off.max() <= 0.9 * LEVEL_TOLERANCE or self.stopped:
                return z
            levels.weight *= 4.0
            trial, _ = self._solve(z, most=8)
            off = np.abs(levels.off(self.model.move(trial)[levels.part]))
            if off.max() <= LEVEL_TOLERANCE:
                return trial
        levels.weight = asked
        return z

    def _high(self, z: Array) -> bool:
        distances = self.problem.distances(z)
        return any(d > HIGH.get(name.split(",")[0], np.inf) for name, d in distances.items())

    def _identify(self, z: Array) -> tuple[Array, list[int]]:
        """Put back all whose return the rest can make good; the rest follows. (z, put back)."""
        first = self.problem.at(z).asked
        budget = NOTICED * (UNKNOWN * self.problem.pull) ** 2
        allowed = first + 1.5 * budget  # what was foreseen is straight, pictures are not
        for _ in range(2):
            wanted = worth(self.problem, z, budget)
            if not wanted:
                break
            trial, back = self._put_back(z, wanted, first)
            if self.problem.at(trial).asked <= allowed:
                return trial, back
            budget *= 0.3
        return z, [i for i in range(len(z)) if z[i] == 0.0]

    def _put_back(self, z: Array, wanted: list[int], asked: float) -> tuple[Array, list[int]]:
        """Draw ``wanted`` to their start, so that the others can take over what they did; which of them got there."""
        trial = z
        draw = np.zeros(len(z))
        draw[wanted] = HOMING * max(1.0, float(np.sqrt(asked)))
        self.problem.draw = draw
        try:
            for factor, most in ((1.0, 4), (5.0, 3)):
                self.problem.draw = factor * draw
                trial, _ = self._solve(trial, most=most)
        finally:
            self.problem.draw = None
        back = [i for i in wanted if abs(trial[i]) < AT_HOME]
        trial = trial.copy()
        trial[back] = 0.0
        return self._solve(trial, [i for i in range(len(z)) if i not in back], most=5)[0], back

    def _restrain(self, z: Array, held: list[int], before: dict[str, float]) -> Array:
        """No measure of the check may fail that did not fail (as much) at the start."""
        if self.barrier.weight <= 0 or not (worse := self._worse(z, before)):
            return z
        moving = [i for i in range(len(z)) if i not in held]
        for _ in range(3):
            # Measures that were not watched join.
            function = self.model.function()
            self.barrier.join(self.barrier.measurements_of(list(worse), function))
            self.barrier.weight *= 4.0
            z, _ = self._solve(z, moving, most=8)
            if not (worse := self._worse(z, before)):
                return z
        return self._last_good(z, held, before)

    def _last_good(self, z: Array, held: list[int], before: dict[str, float]) -> Array:
        """The place nearest to z on the way from the start to it that passes."""
        way = [z]
        for place in reversed(self.way):
            back = place.copy()
            back[held] = 0.0
            way.append(back)
        for bad, good in pairwise(way):
            if self._worse(good, before):
                continue
            low, high = 0.0, 1.0
            for _ in range(5):
                middle = 0.5 * (low + high)
                fails = bool(self._worse(good + middle * (bad - good), before))
                low, high = (low, middle) if fails else (middle, high)
            return good + low * (bad - good)
        return np.zeros_like(z)

    def _worse(self, z: Array, before: dict[str, float]) -> dict[str, float]:
        self.model.move(z)
        harm = self.barrier.all_harm(self.model.function())
        return {n: h for n, h in harm.items() if h > max(0.995, before.get(n, 0.0) + 1e-3)}

    def _tidy(self, z: Array, before: dict[str, float]) -> Array:
        """Values as a person would write them: on a bound when next to it, and with no more digits than matter.

        Where rounding takes a measure over its limit (hues that run close together are steep), more digits stay.
        """
        passed = not self._worse(z, before)
        for more in range(0, 7, 2):
            out = self._rounded(z, more)
            if not passed or self.barrier.weight <= 0 or not self._worse(out, before):
                return out
        return z

    def _rounded(self, z: Array, more: int) -> Array:
        out = z.copy()
        for i, f in enumerate(self.free):
            low, high = f.bounds_z()
            if abs(z[i]) < MOVED * 0.1**more:
                out[i] = 0.0
                continue
            for bound in (low, high):
                if abs(z[i] - bound) < AT_BOUND * 0.1**more:
                    out[i] = bound
            out[i] = f.z(readable(f, f.value(float(out[i])), more))
        return out

    def _changes(self, z: Array, shift: Array) -> list[Change]:
        """Each parameter's story, the largest effect on the picture first.

        ``shift`` (n,) is by how much putting others back moved each; it counts as uncertainty.
        """
        on_bound = {i: word for i in range(len(z)) if (word := self._bound(z, i))}
        deviation = np.full(len(z), np.inf)
        tied: dict[int, str] = {}
        if any(g.data for g in self.gathered.goals) and not self.stopped:
            spread = information(self.problem, z).spread()
            sigma = np.sqrt(np.diag(spread))
            deviation = np.hypot(SIGMAS * sigma, shift)
            together = np.abs(spread / np.outer(sigma, sigma)) - 2.0 * np.eye(len(z))
            for i in (int(k) for k in np.flatnonzero(deviation > SURE)):
                k = int(np.argmax(together[i]))
                if together[i, k] > TOGETHER:
                    tied[i] = self.free[k].name
        distances = self.problem.distances(z)
        here = self.model.move(z).lab
        changes = []
        for i, f in enumerate(self.free):
            value = f.value(float(z[i]))
            moved = abs(z[i]) > 1e-9
            sure = deviation[i] <= SURE
            status: Status = "open"
            if i in on_bound:
                status = "bound"
            elif sure:
                status = "determined" if moved else "still"
            elif moved:
                status = "tied"
            change = Change(
                f.name,
                f.info.unit,
                f.start,
                value,
                status,
                float(f.uncertainty(float(z[i]), deviation[i])) if np.isfinite(deviation[i]) else None,
                on_bound.get(i, ""),
                tied.get(i, ""),
            )
            if moved:
                back, _ = self.model.varied(i, 0.0)
                worst = {}
                for g in self.gathered.goals:
                    worst[g.name] = g.distance(back[g.part]) - distances[g.name]
                why = max(worst, key=lambda n: worst[n])
                effect = float(np.sqrt(np.mean(np.sum((back.lab - here) ** 2, axis=1))))
                gain = worst[why] > 0
                change = replace(
                    change, effect=effect, why=why if gain else "", without=distances[why] + worst[why] if gain else 0.0
                )
            changes.append(change)
        return sorted(changes, key=lambda c: -c.effect)

    def _bound(self, z: Array, i: int) -> str:
        """Which bound a moved parameter is on, with the hard bound where that lies further out."""
        f = self.free[i]
        low, high = f.bounds_z()
        for at, value, hard, word in ((low, f.low, f.info.low, "lowest"), (high, f.high, f.info.high, "highest")):
            if abs(z[i] - at) < 1e-6 and abs(z[i]) > 1e-9:
                beyond = "" if abs(value - hard) < 1e-12 else f"; the hard bound is {hard:g}"
                return f"{word} of its usual range, {value:g}{beyond}" if beyond else f"{word} it can be, {value:g}"
        return ""


def readable(f: Free, value: float, more: int = 0) -> float:
    """``value`` to a five-thousandth of the usual range and ``more`` digits, never outside the bounds."""
    step = (f.info.soft_high - f.info.soft_low) / 5000.0
    if step <= 0:
        return value
    digits = max(0, int(np.ceil(-np.log10(step)))) + more
    return min(max(round(value, digits), f.low), f.high)


def failing_words(harm: dict[str, float]) -> list[str]:
    """Titles of the measures that fail."""
    return [BY_NAME[n].title for n, h in harm.items() if h > 1.0]
