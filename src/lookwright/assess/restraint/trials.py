"""Every live parameter of a look, each moved a little: what advice tries.

There is no list of parameters here. A look's steps say which numbers they have, and each number's declaration says
where it may go: toward its neutral value, or, for one without, both ways inside its usual range. A step that is added
to the registry is tried from then on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import groupby

import numpy as np

from lookwright.arrays import Array
from lookwright.errors import LookwrightError
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import Stage, compile_look, context_of, stages
from lookwright.look.steps.base import Context, Op, Step
from lookwright.look.steps.numbers import Number, numbers, with_value
from lookwright.look.steps.params import ParamInfo

from .colours import greys, hues
from .remember import Answers, Key, Remembering, key_of
from .subject import Subject

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


@dataclass(frozen=True)
class _Ready:
    """A trial with the scalar work of its step done."""

    trial: Trial
    own: Op
    other: Callable[[Array], Array] | None
    """Its plain rendering, where that is another."""
    known: dict[Key, Array]
    """What it makes of code values, as far as it was asked."""


class Tried:
    """The trials of one look as subjects that can be measured; made once for all the findings of a check."""

    def __init__(self, subject: Remembering, look: Look) -> None:
        self._subject, self._look = subject, look

    @cached_property
    def _shown(self) -> Look:
        return View(self._look).look

    @cached_property
    def _codes(self) -> dict[Key, Array]:
        """All that was asked for so far, the probe first."""
        probe = self._probe()
        return {key_of(probe): probe}

    def ask(self, measurements: Sequence[Callable[[Subject], object]]) -> None:
        """Put every array of code values that these will ask for through all trials at once."""
        found = self._codes

        def noted(code: Array) -> Array:
            found.setdefault(key_of(code), code)
            return given(code)

        given = self._subject.graded
        for measurement in measurements:
            measurement(self._subject.graded_by(noted))
        self._put_through()

    def _put_through(self) -> None:
        """What is not known yet of :attr:`_codes`."""
        ready = self._ready
        new = {key: code for key, code in self._codes.items() if ready and key not in ready[0].known}
        if not new:
            return
        try:
            made = side_by_side(self._parts, [(r.trial.index, r.own) for r in ready], list(new.values()))
        except LookwrightError:  # by one of them: each by itself then
            return
        for r, given in zip(ready, made, strict=True):
            r.known.update(zip(new, given, strict=True))

    @cached_property
    def every(self) -> list[tuple[Trial, Remembering]]:
        """Those that change the picture, each with its subject. A value that this look cannot have is left out."""
        self._put_through()
        probe = next(iter(self._codes.values()))
        graded, plain = self._subject.graded(probe), self._subject.plain(probe)
        found = []
        for r in self._ready:
            function, other = Answers(partial(_with_step, self._parts, r.trial.index, r.own), r.known), r.other
            try:
                moved = np.abs(function(probe) - graded).max()
                if other is not None and np.abs(other(probe) - plain).max() <= MOVES:
                    other = None
            except LookwrightError:
                continue
            if moved > MOVES or other is not None:
                subject = self._subject.graded_by(function, other)
                found.append((r.trial, _pictured(subject, r.trial.look, other is not None)))
        return found

    @cached_property
    def _parts(self) -> list[Stage]:
        return stages(self._shown)

    @cached_property
    def _ready(self) -> list[_Ready]:
        """Every trial whose value this look can have."""
        places = {part.step: i for i, part in enumerate(self._parts)}
        context, found = context_of(self._shown), []
        for trial in trials(self._look):
            if self._parts[places[trial.index]].own is None:  # a fitting step behind one that fits: not in the path
                continue
            try:
                own = _prepared(trial.look.steps[trial.index], self._shown.strength, context)
                found.append(_Ready(trial, own, self._other_plain(trial), {}))
            except LookwrightError:
                continue
        return found

    def _probe(self) -> Array:
        """Code values (n, 3) that every parameter of any use moves: hues all round, and greys."""
        stops, saturation, hue = np.meshgrid([-2.0, 0.0, 1.5], [0.05, 0.15], np.arange(0.0, 360.0, 15.0))
        coloured = hues(stops.ravel(), saturation.ravel(), hue.ravel())
        return self._subject.feed(np.concatenate([coloured, greys(np.arange(-9.0, 6.1, 0.5))]))

    def _other_plain(self, trial: Trial) -> Callable[[Array], Array] | None:
        """The plain rendering of a changed look, where its step leaves something in it; None where it does not."""
        now, then = (_plainly(look.steps[trial.index]) for look in (self._look, trial.look))
        if now == then:
            return None
        shown = self._shown
        if len(now) == len(then) == 1:
            parts, context = self._plain_parts
            before = sum(len(step.plain_form()) for step in shown.steps[: trial.index])
            return partial(_with_step, parts, before, then[0].prepare(context))
        steps = (*trial.look.steps, *shown.steps[len(self._look.steps) :])
        return compile_look(shown.model_copy(update={"steps": steps}).with_folder(shown.folder).plain())

    @cached_property
    def _plain_parts(self) -> tuple[list[Stage], Context]:
        plain = self._shown.plain().with_folder(self._shown.folder)
        return stages(plain), context_of(plain)


def _plainly(step: Step) -> list[Step]:
    return [form.scaled(0.0) for form in step.plain_form()]


BLOCK = 512
"""Code values that are put through all trials at once: what stands between then stays in the cache."""


def side_by_side(
    parts: Sequence[Stage], changed: Sequence[tuple[int, Op]], codes: Sequence[Array]
) -> list[list[Array]]:
    """What each changed path makes of each array of ``codes``: steps before the changed one are run once for all, those
    behind it on all of them together.

    Parameters
    ----------
    parts
        Of the look.
    changed
        (place of a step, another operation in its place), in the order of the path.
    codes
        Arrays (..., 3) of source code values.
    """
    flat = np.concatenate([code.reshape(-1, 3) for code in codes])
    blocks = [_block(parts, changed, flat[i : i + BLOCK]) for i in range(0, len(flat), BLOCK)]
    whole = np.concatenate(blocks, axis=1)
    ends = np.cumsum([code.size // 3 for code in codes])[:-1]
    return [
        [part.reshape(code.shape) for part, code in zip(np.split(each, ends), codes, strict=True)] for each in whole
    ]


def _block(parts: Sequence[Stage], changed: Sequence[tuple[int, Op]], code: Array) -> Array:
    """(trials, n, 3) of (n, 3)."""
    base, moved = np.asarray(code, np.float64), np.empty((0, 3))
    for part in parts:
        for op in part.before:
            base = op(base)
            moved = op(moved) if len(moved) else moved
        if part.own is None:
            continue
        new = [own(base) for index, own in changed if index == part.step]
        if len(moved):
            moved = part.own(moved)
        base, moved = part.own(base), np.concatenate([moved, *new])
    return moved.reshape(len(changed), len(code), 3)


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


def _with_step(parts: Sequence[Stage], index: int, own: Op, signal: Array) -> Array:
    """What the path of ``parts`` with another operation in place of step ``index`` makes of code values."""
    x = np.asarray(signal, np.float64)
    for part in parts:
        for op in part.before:
            x = op(x)
        if part.own is not None:
            x = (own if part.step == index else part.own)(x)
    return x
