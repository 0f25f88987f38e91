"""Short recipes that a LUT may be: which steps stand in them, and which of their numbers are found."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lookwright.colour.spaces.signal import Signal
from lookwright.look.steps.balance import Balance
from lookwright.look.steps.base import Step
from lookwright.look.steps.contrast import Contrast
from lookwright.look.steps.exposure import Exposure
from lookwright.look.steps.hues import Band, Hues
from lookwright.look.steps.lut import LutSignal
from lookwright.look.steps.matrix import Matrix
from lookwright.look.steps.numbers import Number, numbers
from lookwright.look.steps.render import Render
from lookwright.look.steps.saturation import Saturation
from lookwright.look.steps.signal import SignalStep

MIXED = tuple(name for name, _, _ in Matrix.parameters())
"""All numbers of a mixture of channels."""
MOST = 10
"""Numbers that an explanation may have."""


@dataclass(frozen=True)
class Way:
    """Steps in order and the numbers of them that are free, by step and first name."""

    name: str
    steps: tuple[Step, ...]
    free: tuple[tuple[int, str], ...]

    def numbers(self) -> list[tuple[int, Number]]:
        """The free numbers, each with the place of its step."""
        wanted = set(self.free)
        return [(i, n) for i, step in enumerate(self.steps) for n in numbers(step) if (i, _name(n)) in wanted]

    def count(self) -> int:
        """How many numbers are free."""
        return len(self.numbers())


def _name(number: Number) -> str:
    """``turn`` for the turn of any band, ``slope`` for any part of it."""
    return next(str(p) for p in reversed(number.path) if isinstance(p, str))


def words_of(signal: Signal) -> LutSignal:
    """A signal as a step names it."""
    return LutSignal(encoding=signal.encoding.name, primaries=signal.primaries.name, range=signal.range)


class _Parts:
    """Steps with free names, put together in the order of the path."""

    def __init__(self, source: Signal, output: Signal) -> None:
        self._display = output.kind == "display"
        self._same = source == output
        into, out = words_of(source), words_of(output)
        self._first = source.kind == "scene"
        self.tone = "low", "middle", "high"
        self.cdl = "slope", "offset", "power"
        self.into = SignalStep(signal=into) if self._first else None
        self.out = SignalStep(signal=out)
        self.renders = source.kind == "scene" and self._display

    def way(self, name: str, *parts: tuple[Step, tuple[str, ...]], render: tuple[str, ...] = ()) -> Way:
        """Scene steps, then the rendering where the output shows light, then steps on the output's code values."""
        scene = [p for p in parts if p[0].domains()[1] != "display"]
        display = [p for p in parts if p[0].domains()[1] == "display"]
        middle: list[tuple[Step, tuple[str, ...]]] = [(Render(), render)] if self._display else []
        whole = [*scene, *middle, *display]
        free = tuple((i, n) for i, (_, names) in enumerate(whole) for n in names)
        return Way(name, tuple(step for step, _ in whole), free)


def ways(source: Signal, output: Signal) -> Iterator[Way]:
    """Recipes to try, of few numbers first."""
    p = _Parts(source, output)
    bands = Hues(band=tuple(Band(centre=c, width=50.0) for c in (0.0, 90.0, 180.0, 270.0)))
    light: list[tuple[Step, tuple[str, ...]]] = [(Exposure(), ("stops",)), (Balance(), ("mired", "tint"))]
    chroma: tuple[Step, tuple[str, ...]] = (Saturation(), ("amount",))
    if p.renders:
        tone = ("grey", "slope", "shoulder", "white", "toe")
        yield p.way("the plain rendering")
        yield p.way("exposure and balance", *light)
        yield p.way("a tone curve", render=tone)
        yield p.way("a tone curve and colour", chroma, render=(*tone, "skew"))
        yield p.way("light, tone and colour", *light, (Saturation(), ("amount", "highlights")), render=tone)
        yield p.way(
            "tone, and a correction", (p.out, ("saturation", *p.tone, "slope")), render=("grey", "slope", "white")
        )
        yield p.way("channels mixed", (Matrix(), MIXED))
        yield p.way("tone and hues", (bands, ("turn",)), chroma, render=tone)
    else:
        yield p.way("nothing but the encoding")
        yield p.way("exposure and balance", *light)
        yield p.way("colour", chroma)
        yield p.way("tone and colour on code values", (p.out, ("saturation", *p.tone)))
        yield p.way("hues and colour", (bands, ("turn",)), chroma)
        yield p.way("contrast", *light[:1], (Contrast(), ("slope", "pivot", "toe", "shoulder", "luminance")), chroma)
        yield p.way("channels mixed", (Matrix(), MIXED))
        yield p.way("hues, and light by hue", (bands, ("turn", "saturation")), chroma)
        yield p.way("a tone curve on each channel", (p.out, ("slope", "power", *p.tone, "saturation")))
    if output.kind == "display":
        mixed = Matrix(light="display"), MIXED
        yield p.way("channels of the display's light mixed", mixed)
        yield p.way("channels of the display mixed, and a bend", mixed, (p.out, ("middle",)))
        yield p.way("channels of the display mixed, and colour", chroma, mixed)
    yield p.way("a correction of what it gives", (p.out, (*p.cdl, "saturation")))
    if p.into is not None and not p._same:
        yield p.way("a correction of what it is fed", (p.into, (*p.cdl, "saturation")))
    elif p._same and not p._display:
        yield p.way(
            "a correction in ACEScct", (SignalStep(signal=LutSignal(encoding="ACEScct")), (*p.cdl, "saturation"))
        )
