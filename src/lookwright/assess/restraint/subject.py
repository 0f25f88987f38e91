"""What is checked: a look, or a LUT file, beside the plain rendering that it is compared with.

Every measure asks the same question: what does this do that the plain rendering of the same source into the same output
does not? So a display LUT that changes nothing shows no harm, and neither does a plain conversion.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array, Pixels
from lookwright.colour.difference import light_to_lab
from lookwright.colour.plain import plain_light
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, Signal
from lookwright.look.baking.foreign import declared
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Limit, Look, SignalText
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.steps import registry
from lookwright.lut.formats.naming import joined_name
from lookwright.lut.formats.read import read_lut
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.lattice import sample

SignalFunction = Callable[[Array], Array]
PictureFunction = Callable[[Pixels], Pixels]

PLAIN_SIZE = 33
"""Lattice points a side for pictures in the plain rendering; measures of colours use the exact pipeline."""


@dataclass(frozen=True)
class Subject:
    """A function from source code values to displayed code values, and the plain one beside it."""

    name: str
    source: Signal
    output: Signal
    """Always a display signal: what ends in scene light is looked at through the plain rendering (see ``note``)."""
    graded: SignalFunction
    """(..., 3) float64 source code values 0..1 to output code values."""
    plain: SignalFunction
    graded_picture: PictureFunction
    """The same for pictures, (H, W, 3) float32, fast."""
    plain_picture: PictureFunction
    look: Look | None = None
    """The recipe, where there is one: advice names its own parameters."""
    limits: Mapping[str, Limit] = field(default_factory=dict)
    note: str = ""

    def feed(self, scene: Array) -> Array:
        """Scene light (..., 3), linear ACEScg, to source code values, held in 0..1 where a LUT can take them.

        A display source is fed the plain rendering of that light, as a finished picture of it would be.
        """
        if self.source.kind == "scene":
            return np.clip(self.source.from_scene(scene), 0.0, 1.0)
        light = plain_light(np.asarray(scene, np.float64), self.source)
        # Clipped in the source's own primaries, before the curve: that is where a picture of it ends.
        own = light @ matrix(DISPLAY_PRIMARIES, self.source.primaries.name).T
        own = np.clip(own, 0.0, self.source.encoding.peak)
        return np.clip(self.source.encode(own), 0.0, 1.0)

    def light(self, code: Array) -> Array:
        """Output code values to display light, linear BT.2020, 1 = reference white."""
        return self.output.to_light(code)

    def once(self, what: str, work: Callable[[], Array]) -> Array:
        """``work()``, of the plain side alone: a subject that is measured again remembers it by this name."""
        return work()

    def oklab(self, code: Array) -> Array:
        """Output code values to Oklab of the display light."""
        return light_to_oklab(self.light(code))

    def lab(self, code: Array) -> Array:
        """Output code values to CIELAB under D65, white = reference white."""
        return light_to_lab(self.light(code))


def subject_of_look(look: Look, name: str = "") -> Subject:
    """A look beside its own plain rendering (the look at strength 0)."""
    view = View(look)
    return Subject(
        name or look.title,
        view.pipeline.source,
        view.output,
        view.pipeline,
        compile_look(view.look.plain()),
        view.graded,
        view.plain,
        look,
        look.limits,
        view.note,
    )


def subject_of_lut(
    path: Path, source: Signal | None = None, output: Signal | None = None, correction: str | None = None
) -> Subject:
    """A LUT file with its declared signals; a file of our own knows them. ``correction`` picks one of an ASC CDL
    collection.

    Raises
    ------
    LutFileError
        For a file that cannot be read, or whose signals are not known.
    RecipeError
        For a LUT that would turn display light back into scene light.
    """
    table = read_lut(path, correction)
    source, output, look = declared(path, source, output)
    name = joined_name(path.name, correction)

    def through(signal: Array) -> Array:
        return np.asarray(table(np.asarray(signal, np.float64), "tetrahedral"), np.float64)

    if output.kind == "display":
        return foreign(name, source, output, through, Applier(table), look)
    # Log to log: looked at through the plain rendering, as a log look is.
    shown = _plain_look(output)
    view, seen = _compiled(shown)

    def graded(signal: Array) -> Array:
        return view(np.clip(through(signal), 0.0, 1.0))

    note = "gives log, shown through the plain rendering"
    return foreign(name, source, seen, graded, None, look, note)


def foreign(
    name: str,
    source: Signal,
    output: Signal,
    graded: SignalFunction,
    picture: PictureFunction | None = None,
    look: Look | None = None,
    note: str = "",
) -> Subject:
    """Any function from source to display code values, beside the plain rendering of the same signals.

    From display to display the plain rendering is the same light in the other signal, so for equal signals the
    identity. ``picture`` is a faster form of ``graded`` for pictures.
    """
    if look is not None:
        plain, _ = _compiled(look.plain() if look.output.signal().kind == "display" else _plain_look(source))
    elif source.kind == "display":
        plain = _same_light(source, output)
    else:
        plain, _ = _compiled(_plain_look(source, output))

    def slow(pixels: Pixels) -> Pixels:
        return np.asarray(graded(np.asarray(pixels, np.float64)), np.float32)

    return Subject(
        name,
        source,
        output,
        graded,
        plain,
        picture or slow,
        _on_lattice(plain),
        look,
        {} if look is None else look.limits,
        note,
    )


def _compiled(look: Look) -> tuple[SignalFunction, Signal]:
    pipeline = compile_look(look)
    return pipeline, pipeline.output


def _plain_look(source: Signal, output: Signal | None = None) -> Look:
    """The plain rendering of a scene source as a look of its own."""

    def text(s: Signal) -> SignalText:
        return SignalText(encoding=s.encoding.name, primaries=s.primaries.name, range=s.range)

    known = registry()
    return Look(
        title="Plain rendering",
        source=text(source),
        output=SignalText(encoding="BT.1886") if output is None else text(output),
        steps=(known["render"](kind="render"), known["gamut"](kind="gamut")),
    )


def _same_light(source: Signal, output: Signal) -> SignalFunction:
    if source == output:
        return lambda signal: np.asarray(signal, np.float64)

    def convert(signal: Array) -> Array:
        own = source.to_light(signal) @ matrix(DISPLAY_PRIMARIES, output.primaries.name).T
        return output.encode(np.clip(own, 0.0, output.encoding.peak))

    return convert


def _on_lattice(plain: SignalFunction) -> PictureFunction:
    """``plain`` for pictures, through a lattice made when the first picture comes."""
    made: list[Any] = []

    def apply(pixels: Pixels) -> Pixels:
        if not made:
            made.append(Applier(sample(plain, PLAIN_SIZE)))
        return np.asarray(made[0](pixels), np.float32)

    return apply
