"""Which level targets cannot be met, and which not together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lookwright.arrays import Array

from .goals import Levels, Target
from .model import Model
from .problem import Problem
from .solver import solve

MOST = 20
"""Evaluations for one question. A target that is within reach is met in two to ten (measured)."""

WEIGHT = 4.0


def explain(problem: Problem, levels: Levels, z: Array, labels: Sequence[str]) -> list[str]:
    """Sentences on the targets that the solution at z does not meet.

    Each question is a small tuning of its own on the marks alone, under the same bounds and restraint: can all targets
    be met when nothing else is asked? Can this one alone? Which smallest set cannot (found by leaving out one at a time
    and keeping it out when the rest still cannot be met)?
    """
    now = levels.levels(problem.model.move(z)[levels.part])
    unmet = [i for i, t in enumerate(levels.targets) if not t.met(float(now[i]))]
    everything = list(range(len(levels.targets)))
    questions = _Alone(problem, levels)
    reached = questions.levels(everything, z)
    if questions.met(everything, reached):
        others = ", ".join(g.name for g in problem.goals if g is not levels)
        names = _names([labels[i] for i in unmet])
        return (
            [f"{names} could be met, but not along with {others}; raise it with --weight levels=4."]
            if others
            else [
                f"{names} could be met by changing the picture more than the pull toward the start allows; "
                "raise it with --weight levels=4."
            ]
        )
    sentences = []
    alone = []
    for i in unmet:
        nearest = questions.levels([i], z)[i]
        if not questions.met([i], {i: nearest}):
            t = levels.targets[i]
            alone.append(i)
            sentences.append(
                f"{labels[i]} was not brought to {t.level:g} even by itself within the bounds and restraint: "
                f"{nearest:.1f} at best."
            )
    named = list(alone)
    rest = [i for i in everything if i not in alone]
    if len(rest) > 1 and not questions.met(rest, questions.levels(rest, z)):
        core = list(rest)
        among = [i for i in rest if i in unmet]  # mostly enough to find it in
        if 1 < len(among) < len(rest) and not questions.met(among, questions.levels(among, z)):
            core = among
        rest = list(core)
        for i in sorted(rest, key=lambda i: i in unmet):  # keep the unmet ones in, if it can be so
            fewer = [j for j in core if j != i]
            if len(fewer) > 1 and not questions.met(fewer, questions.levels(fewer, z)):
                core = fewer
        wanted = _names([f"{labels[i]} at {levels.targets[i].level:g}" for i in core])
        best = questions.levels(core, z)
        got = ", ".join(f"{best[i]:.1f}" for i in core)
        sentences.append(f"{wanted} could not be met together: {got} at best.")
        named += core
    gave_way = [labels[i] for i in unmet if i not in named]
    if gave_way:
        sentences.append(f"{_names(gave_way)} could be met alone, and gave way to the others.")
    return sentences


def _names(labels: Sequence[str]) -> str:
    if len(labels) == 1:
        return f"{labels[0]}"
    return ", ".join(labels[:-1]) + f" and {labels[-1]}"


class _Alone:
    """Small tunings on some of the marks alone."""

    def __init__(self, problem: Problem, levels: Levels) -> None:
        self._problem, self._levels = problem, levels
        model = problem.model
        codes = np.concatenate([_codes(problem)[levels.part][t.part] for t in levels.targets])
        self._model = Model(model.look, model.free, codes)
        self._known: dict[tuple[int, ...], dict[int, float]] = {}

    def levels(self, which: Sequence[int], z: Array) -> dict[int, float]:
        """Levels nearest to the wanted ones when only these are asked for."""
        key = tuple(which)
        if key not in self._known:
            start, targets = 0, []
            for i, t in enumerate(self._levels.targets):
                count = t.part.stop - t.part.start
                if i in which:
                    targets.append(replace_part(t, slice(start, start + count)))
                start += count
            goal = Levels(slice(0, start), self._levels.output, tuple(targets), weight=WEIGHT, soft=1e3)
            # Where the sum of all is within one tolerance, each is.
            small = Problem(self._model, [goal], self._problem.barrier, ridge=0.002, enough=0.9 * WEIGHT)
            found = solve(small, z, most=MOST, tolerance=0.05)
            got = goal.levels(self._model.move(found.z)[goal.part])
            self._known[key] = dict(zip(which, (float(v) for v in got), strict=True))
        return self._known[key]

    def met(self, which: Sequence[int], reached: dict[int, float]) -> bool:
        """Whether all of these are within the tolerance."""
        return all(self._levels.targets[i].met(reached[i]) for i in which)


def replace_part(target: Target, part: slice) -> Target:
    """The same target, its samples elsewhere."""
    return replace(target, part=part)


def _codes(problem: Problem) -> Array:
    return problem.model.codes
