"""Every live parameter of a look, each moved a little: what advice tries.

There is no list of parameters here. A look's steps say which numbers they have, and each number's declaration says
where it may go: toward its neutral value, or, for one without, both ways inside its usual range. A step that is added
to the registry is tried from then on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

import numpy as np

from lookwright.arrays import Array
from lookwright.errors import LookwrightError
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import Stage, compile_look, folded, stages
from lookwright.look.steps.base import Context, Op, Step
from lookwright.look.steps.numbers import Number, numbers, with_value
from lookwright.look.steps.params import ParamInfo

from .colours import greys, hues
from .remember import Remembering

SHARE = 0.3
"""How far a parameter is moved: this share of the way to its neutral value, or to an end of its usual range."""

MOVES = 1e-6
"""Change of output signal under which a trial changes nothing: a tint's width, say, where there is no tint."""


@dataclass(frozen=True)
class Trial:
    """A look with one parameter moved."""

    label: str
    """``split.pull``, ``hues.band.1.turn``; ``cdl.offset`` for the three of a triple by the same share; the step's
    number where there are several of a kind."""
    before: str
    after: str
    index: int
    """Place of its step, from 0."""
    look: Look
    back: bool
    """Whether it goes back toward a neutral value: less of the same look, not another one."""


def trials(look: Look) -> Iterator[Trial]:
    """Every number of every step that is on, and the triples as a whole."""
    kinds = [s.kind for s in look.steps]
    for i, step in enumerate(look.steps):
        if not step.on:
            continue
        where = f" (step {i + 1})" if kinds.count(step.kind) > 1 else ""
        for name, before, after, changed, back in _changes(step):
            steps = (*look.steps[:i], changed, *look.steps[i + 1 :])
            copy = look.model_copy(update={"steps": steps}).with_folder(look.folder)
            yield Trial(f"{step.kind}.{name}{where}", before, after, i, copy, back)


def _changes(step: Step) -> Iterator[tuple[str, str, str, Step, bool]]:
    """(name, value before and after in words, the step so changed, whether toward neutral)."""
    every = list(numbers(step))
    for n in every:
        for then in targets(n.info, n.value):
            yield n.words, f"{n.value:g}", f"{then:g}", with_value(step, n.path, then), n.info.neutral is not None
    for group, members in groupby(every, key=lambda n: n.path[:-1]):
        triple = [n for n in members if isinstance(n.path[-1], int)]
        if triple and triple[0].info.neutral is not None:
            yield from _whole(step, ".".join(str(p) for p in group), triple)


def _whole(step: Step, name: str, triple: Sequence[Number]) -> Iterator[tuple[str, str, str, Step, bool]]:
    """All of a triple toward neutral at once, where more than one of them stands off it."""
    then = [next(iter(targets(n.info, n.value)), n.value) for n in triple]
    if sum(a != n.value for a, n in zip(then, triple, strict=True)) < 2:
        return
    changed = step
    for n, value in zip(triple, then, strict=True):
        changed = with_value(changed, n.path, value)
    yield name, ", ".join(f"{n.value:g}" for n in triple), ", ".join(f"{v:g}" for v in then), changed, True


def targets(info: ParamInfo, value: float) -> list[float]:
    """Where a number of this declaration may be moved from ``value``, to three digits and never past its bounds."""
    ends = (info.soft_low, info.soft_high) if info.neutral is None else (info.neutral,)
    found = []
    for end in ends:
        if info.scale == "log" and value > 0.0 and end > 0.0:
            then = value * (end / value) ** SHARE
        else:
            then = value + SHARE * (end - value)
        then = min(max(float(f"{then:.3g}"), info.low), info.high)
        # Rounded, a value that stands at its end, or a hair from it, would go away from there.
        if abs(then - end) < abs(value - end) - 1e-9 and then not in found:
            found.append(then)
    return found


class Tried:
    """The trials of one look as subjects that can be measured; made once for all the findings of a check."""

    def __init__(self, subject: Remembering, look: Look) -> None:
        self._subject, self._look = subject, look

    @cached_property
    def every(self) -> list[tuple[Trial, Remembering]]:
        """Those that change the picture, each with its subject. A value that this look cannot have is left out."""
        shown = View(self._look).look
        parts = stages(shown)
        places = {part.step: i for i, part in enumerate(parts)}
        context = Context(shown.source.signal(), shown.output.signal(), shown.folder)
        probe = self._probe()
        graded, plain = self._subject.graded(probe), self._subject.plain(probe)
        found = []
        for trial in trials(self._look):
            if parts[places[trial.index]].own is None:  # a fitting step behind one that fits: not in the path
                continue
            step = trial.look.steps[trial.index]
            try:
                function = _with_step(parts, trial.index, _prepared(step, shown.strength, context))
                moved = np.abs(function(probe) - graded).max()
                other = self._other_plain(trial, shown)
            except LookwrightError:
                continue
            if other is not None and np.abs(other(probe) - plain).max() <= MOVES:
                other = None
            if moved > MOVES or other is not None:
                found.append(
                    (trial, _pictured(self._subject.graded_by(function, other), trial.look, other is not None))
                )
        return found

    def _probe(self) -> Array:
        """Code values (n, 3) that every parameter of any use moves: hues all round, and greys."""
        stops, saturation, hue = np.meshgrid([-2.0, 0.0, 1.5], [0.05, 0.15], np.arange(0.0, 360.0, 15.0))
        coloured = hues(stops.ravel(), saturation.ravel(), hue.ravel())
        return self._subject.feed(np.concatenate([coloured, greys(np.arange(-9.0, 6.1, 0.5))]))

    def _other_plain(self, trial: Trial, shown: Look) -> Callable[[Array], Array] | None:
        """The plain rendering of a changed look, where its step leaves something in it; None where it does not."""
        now, then = self._look.steps[trial.index], trial.look.steps[trial.index]
        if [s.scaled(0.0) for s in now.plain_form()] == [s.scaled(0.0) for s in then.plain_form()]:
            return None
        steps = (*trial.look.steps, *shown.steps[len(self._look.steps) :])
        return compile_look(shown.model_copy(update={"steps": steps}).with_folder(shown.folder).plain())


def _pictured(subject: Remembering, look: Look, plain_too: bool) -> Remembering:
    """With pictures through the changed look's own lattices, baked when the first is asked for."""
    made: list[View] = []

    def view() -> View:
        if not made:
            made.append(View(look))
        return made[0]

    object.__setattr__(subject, "graded_picture", lambda pixels: view().graded(pixels))
    if plain_too:
        object.__setattr__(subject, "plain_picture", lambda pixels: view().plain(pixels))
    return subject


def _prepared(step: Step, strength: float, context: Context) -> Op:
    return (step if strength == 1.0 else step.scaled(strength)).prepare(context)


def _with_step(parts: Sequence[Stage], index: int, own: Op) -> Callable[[Array], Array]:
    """The path of ``parts`` with another operation in place of step ``index``; nothing else is prepared again."""
    ops: list[Op] = []
    for part in parts:
        ops += part.before
        if part.step == index:
            ops.append(own)
        elif part.own is not None:
            ops.append(part.own)
    path = folded(ops)

    def apply(signal: Array) -> Array:
        x = np.asarray(signal, np.float64)
        for op in path:
            x = op(x)
        return x

    return apply
