"""What is shown beside one another: a look in several strengths, with one number varied, or several looks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import exp, log
from pathlib import Path

from lookwright.colour.spaces.names import fold
from lookwright.errors import NameLookupError, WrongUse, did_you_mean
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.steps.base import Step
from lookwright.look.steps.numbers import Number, numbers, with_value
from lookwright.look.steps.params import ParamInfo
from lookwright.present.sheets.turns import LEAST_HOLD_MS, MOST_HOLD_MS

from .given import SignalName, is_lut
from .grading import Layout
from .luts import NOT_FOR_LUTS, load_look_or_lut, name_of

STRENGTHS = (0.3, 0.6, 1.0)
"""Shown where nothing else is asked for: a hint of the look, most of it, and the whole."""

MOST = 8
"""Forms beside the plain rendering; more are too small on a sheet to be told apart."""

VALUES = 5
"""Values over the usual range of a number of which none is named."""


@dataclass(frozen=True)
class Wanted:
    """What was asked to stand beside one another; one of the three, or nothing."""

    strengths: Sequence[float] = ()
    vary: str | None = None
    """``STEP.NUMBER`` or ``STEP.NUMBER=VALUE,VALUE``."""
    others: Sequence[Path] = ()
    hold: float = 2.0
    """Seconds that each stands in turns."""

    def check(self, layout: Layout, strength: float | None, scheduler: str | None) -> None:
        """Raises :class:`WrongUse` for what does not go together."""
        asked = [
            name
            for name, given in (
                ("--strengths", self.strengths),
                ("--vary", self.vary is not None),
                ("--with", self.others),
            )
            if given
        ]
        comparing = layout in ("variants", "turns")
        if asked and not comparing:
            raise WrongUse(f"{asked[0]} is for --layout variants or turns")
        if comparing and scheduler is not None:
            raise WrongUse(f"--scheduler is not for --layout {layout}")
        if not LEAST_HOLD_MS <= 1000 * self.hold <= MOST_HOLD_MS:
            raise WrongUse(f"--hold is {LEAST_HOLD_MS // 1000} to {MOST_HOLD_MS // 1000} seconds")
        if len(asked) > 1:
            raise WrongUse(f"{' and '.join(asked)} do not go together: one sheet compares one thing")
        if self.strengths and strength is not None:
            raise WrongUse("--strength and --strengths do not go together: name all of them in --strengths")
        if any(not 0.0 <= s <= 1.0 for s in self.strengths):
            raise WrongUse("--strengths are numbers from 0 to 1, with commas between")
        if max(len(self.strengths), len(self.others) + 1) > MOST:
            raise WrongUse(f"at most {MOST} can stand beside one another")


@dataclass(frozen=True)
class Form:
    """One of those that stand beside one another."""

    label: str
    view: View


@dataclass(frozen=True)
class Loading:
    """How looks are read: the same for all of them."""

    size: int
    strength: float | None = None
    source: SignalName | None = None
    output: SignalName | None = None

    def look(self, path: Path) -> Look:
        """A look or a LUT file; what a LUT gives is said of LUT files only."""
        output = self.output if is_lut(path) else None
        return load_look_or_lut(path, self.source, output, self.strength, table=True)[0]

    def view(self, look: Look) -> View:
        """The look made visible."""
        return View(look, self.size)


def forms_of(path: Path, look: Look, wanted: Wanted, loading: Loading, turns: bool) -> tuple[str, list[Form]]:
    """A heading, and what is to be seen beside the plain rendering.

    ``turns``, or a LUT file, with nothing asked for is before and after; a sheet then shows :data:`STRENGTHS`.

    Raises
    ------
    WrongUse
        For what does not go together, a number out of its bounds, or looks that take or give other signals.
    NameLookupError
        For a step or a number of it that is not there.
    """
    name = look.title or path.stem
    if wanted.others:
        return "", list(_others(path, look, wanted.others, loading))
    if wanted.vary is not None:
        info, varied = _varied(look, wanted.vary)
        heading = f"{name}, {info}"
        return heading, [Form(label, loading.view(form)) for label, form in varied]
    if is_lut(path) and wanted.strengths:
        raise WrongUse(NOT_FOR_LUTS.replace("--strength is", "--strengths are"))
    if (turns or is_lut(path)) and not wanted.strengths:
        return name, [Form(name if look.strength == 1 else f"{name}, {_strength(look)}", loading.view(look))]
    at = [look.with_strength(s) for s in wanted.strengths or STRENGTHS]
    return name, [Form(_strength(form), loading.view(form)) for form in at]


def _strength(look: Look) -> str:
    return f"strength {look.strength:g}"


def _others(path: Path, look: Look, others: Sequence[Path], loading: Loading) -> Iterator[Form]:
    """The look and those beside it, each under its title, or its file's name where two have the same."""
    looks = [(path, look), *((other, loading.look(other)) for other in others)]
    titles = [one.title or name_of(file, None) for file, one in looks]
    first = loading.view(look)
    for (file, one), title in zip(looks, titles, strict=True):
        view = first if one is look else loading.view(one)
        for which, its, should in (
            ("is fed", view.pipeline.source, first.pipeline.source),
            ("gives", view.output, first.output),
        ):
            if its != should:
                text = f"{which} {its.describe()}, and {path.name} {which} {should.describe()}"
                raise WrongUse(f"{file}: {text}; looks side by side must be fed and give the same")
        yield Form(title if titles.count(title) == 1 else f"{title} ({file.stem})", view)


def _varied(look: Look, text: str) -> tuple[str, list[tuple[str, Look]]]:
    """What is varied in words, and each form with its label."""
    place, equals, listed = text.partition("=")
    which, dot, name = place.strip().partition(".")
    if not dot or not name:
        raise WrongUse(f"--vary {text}: name a step by its number, a dot, and what to vary: 3.amount=0.8,1,1.2")
    index = _step(look, which)
    step = look.steps[index]
    if not step.on:
        raise WrongUse(f"--vary {text}: step {index + 1} {step.kind!r} is switched off")
    known = {number.words: number for number in numbers(step)}
    number = known[_known(name, known, "number", f"--vary: step {index + 1} {step.kind!r}")]
    values = _listed(number, listed, text) if equals else over_the_range(number.info, number.value)
    told = f"step {index + 1} {step.kind}.{number.words}" + (f", {number.info.unit}" if number.info.unit else "")
    return told, [(_label(number, value), _with(look, index, step, number, value)) for value in values]


def _label(number: Number, value: float) -> str:
    return f"{number.words} {value:g}" + (" (as written)" if value == number.value else "")


def _with(look: Look, index: int, step: Step, number: Number, value: float) -> Look:
    steps = (*look.steps[:index], with_value(step, number.path, value), *look.steps[index + 1 :])
    return look.model_copy(update={"steps": steps})


def _step(look: Look, which: str) -> int:
    """Place of a step, from 0, by its number from 1 or, where there is one of that kind, its kind."""
    if which.isdecimal() and len(which) < 4:
        if 1 <= int(which) <= len(look.steps):
            return int(which) - 1
        raise WrongUse(f"--vary: there is no step {which}; the look has {len(look.steps)}")
    kind = _known(which, dict.fromkeys(s.kind for s in look.steps), "step", "--vary")
    places = [i for i, s in enumerate(look.steps) if s.kind == kind]
    if len(places) > 1:
        told = " or ".join(str(i + 1) for i in places)
        raise WrongUse(f"--vary: there are {len(places)} steps {kind!r}; name its number, {told}")
    return places[0]


def _known(name: str, known: Iterable[str], what: str, where: str) -> str:
    """The spelling of a name; raises :class:`NameLookupError` with those near it, or all there are."""
    known = list(known)
    for one in known:
        if fold(one) == fold(name):
            return one
    raise NameLookupError(where, f"no {what} {name[:60]!r} here", hint=did_you_mean(name, known))


def _listed(number: Number, listed: str, text: str) -> list[float]:
    """The values named, inside what is declared."""
    try:
        values = [float(part) for part in listed.split(",")]
    except ValueError:
        raise WrongUse(f"--vary {text}: numbers with commas between are wanted behind '='") from None
    for value in values:
        if not number.info.low <= value <= number.info.high:
            raise WrongUse(f"--vary {text}: {value:g} is not within {number.info.bounds()}")
    if len(values) > MOST:
        raise WrongUse(f"--vary {text}: at most {MOST} can stand beside one another")
    return values


def over_the_range(info: ParamInfo, present: float) -> list[float]:
    """:data:`VALUES` numbers over the usual range, evenly on the scale that is declared, and the present one."""
    low, high = info.soft_low, info.soft_high
    shares = [i / (VALUES - 1) for i in range(VALUES)]
    if info.scale == "log" and low > 0:
        values = [exp(log(low) + s * (log(high) - log(low))) for s in shares]
    else:
        values = [low + s * (high - low) for s in shares]
    # Three digits are what a label can tell; the ends stay inside.
    rounded = {min(max(float(f"{v:.3g}"), info.low), info.high) for v in values}
    return sorted(rounded | {present})
