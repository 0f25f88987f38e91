"""The compiled look: a list of operations from source signal to output signal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.colour.plain import plain_scene
from lookwright.colour.spaces import curves, oklab
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.ranges import from_full, to_full
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES, Signal
from lookwright.errors import LookwrightError, RecipeError
from lookwright.look.steps.base import DOMAIN_WORDS, Context, Domain, Op, Step

from .codes import checked
from .model import Look

DARKEST = 1e-12
"""Display light, of reference white, below which there is none. What a colour on the very edge of the output has left
of a channel is the rounding of matrices, 1e-15 or so, other digits in other releases of numpy; a power of 1/2.4 would
make up to 1e-6 of signal of it. This much light is 1e-5 of signal."""

# Every conversion goes through scene light; each is a list of operations whose inverses are named,
# so that neighbours cancel exactly and matrices multiply into one.
_INTO_SCENE: dict[str, list[Op]] = {
    "scene": [],
    "log": [Op("log to light", curves.acescct_decode, inverse="light to log")],
    "opponent": [
        Op("ratios to Oklab", oklab.ratios_to_lab, inverse="Oklab to ratios"),
        Op("Oklab to cones", matrix=oklab.LAB_TO_LMS, inverse="cones to Oklab"),
        Op("cube", lambda x: x * x * x, inverse="cube root"),
        Op("cones to scene", matrix=oklab.LMS_TO_SCENE, inverse="scene to cones"),
    ],
}
_FROM_SCENE: dict[str, list[Op]] = {
    "scene": [],
    "log": [Op("light to log", curves.acescct_encode, inverse="log to light")],
    "opponent": [
        Op("scene to cones", matrix=oklab.SCENE_TO_LMS, inverse="cones to scene"),
        Op("cube root", np.cbrt, inverse="cube"),
        Op("cones to Oklab", matrix=oklab.LMS_TO_LAB, inverse="Oklab to cones"),
        Op("Oklab to ratios", oklab.lab_to_ratios, inverse="ratios to Oklab"),
    ],
}


def conversion(source: Domain, target: Domain) -> list[Op]:
    """Operations from one scene domain to another."""
    return [*_INTO_SCENE[source], *_FROM_SCENE[target]] if source != target else []


def folded(ops: Sequence[Op]) -> list[Op]:
    """Cancel neighbouring inverse pairs, then multiply neighbouring matrices; identities vanish."""
    kept: list[Op] = []
    for op in (o for o in ops if not _is_identity(o)):
        if kept and op.inverse and kept[-1].name == op.inverse:
            kept.pop()
        else:
            kept.append(op)
    out: list[Op] = []
    for op in kept:
        if op.matrix is not None and out and out[-1].matrix is not None:
            before = out.pop()
            assert before.matrix is not None
            op = Op(f"{before.name}, {op.name}", matrix=op.matrix @ before.matrix)
        out.append(op)
    return [op for op in out if not _is_identity(op)]


def _is_identity(op: Op) -> bool:
    return op.matrix is not None and bool(np.allclose(op.matrix, np.eye(3), rtol=0, atol=1e-15))


HELD = "clip to what the output carries"
"""The operation of the path that holds display light within the output."""


@dataclass(frozen=True)
class Pipeline:
    """A look ready to run: call it with source code values (..., 3), get output code values.

    Takes any floating-point array of finite code values, 0..1 where the source is an encoded signal; computes in
    float64; gives float64 of the same shape, clipped to 0..1 where the output is a display signal.

    Raises :class:`LookwrightError`, with what to do, for integers, another shape, NaN, or a scale that is not 0..1.
    """

    look: Look
    source: Signal
    output: Signal
    ops: tuple[Op, ...]

    def __call__(self, signal: ArrayLike) -> Array:
        return self.run(checked(signal, self.source))

    def run(self, signal: Array) -> Array:
        """The same without looking at what comes in, for callers that made it: any floats (..., 3); NaN stays NaN."""
        x = np.asarray(signal, np.float64)
        for op in self.ops:
            x = op(x)
        return x

    def plan(self) -> list[str]:
        """The compiled path, one operation a line, conversions included."""
        return [op.name for op in self.ops]


@dataclass(frozen=True)
class Leg:
    """The part of the path up to and with one step, before its scalar work; or one of the two ends."""

    index: int | None
    """Place in ``look.steps``, from 0; None for decoding (the first leg) and encoding (the last)."""
    step: Step | None
    """The step, moved by the look's strength; None for the ends."""
    before: tuple[Op, ...]
    """Conversions into the domain the step takes; for the two ends the whole part."""
    needless: bool = False
    """A fitting step behind one whose light already lies within the output: left out."""


@dataclass(frozen=True)
class Stage:
    """A :class:`Leg` with the step's scalar work done."""

    step: int | None
    """Place in ``look.steps``, from 0; None for the ends."""
    before: tuple[Op, ...]
    """Conversions into the domain the step takes; for the two ends the whole part."""
    own: Op | None
    """What the step itself does; None for the ends, and for a step that is left out: neutral or needless."""


def route(look: Look) -> list[Leg]:
    """Decoding, one leg for each step that is on, encoding: the order of domains worked out, nothing prepared.

    Raises :class:`RecipeError` for an order that cannot be: what a step needs, what it would get, and what to move.
    """
    source, output = look.source.signal(), look.output.signal()
    first = straight_into(look)
    legs = [Leg(None, None, tuple(_decode(source, first is not None)))]
    domain: Domain = "scene" if first is None else "display"
    crossed_by = "" if first is None else f"step {first + 1} {look.steps[first].kind!r}"
    fitted = False
    for index, step in look.indexed_steps():
        takes, gives = step.domains()
        where = f"step {index + 1} {step.kind!r}"
        _check_order(where, domain, takes, gives, crossed_by, output)
        # What render and print give lies within the output already: fitting it once more would only pale it.
        needless = fitted and step.kind == "gamut"
        legs.append(Leg(index, step, tuple(conversion(domain, takes)), needless))
        fitted = step.fits or needless
        if gives == "display" and domain != "display":
            crossed_by = where
        domain = gives
    if output.kind == "display" and domain != "display":
        raise RecipeError(
            "output",
            f"{output.encoding.name!r} carries display light, but no step makes any",
            hint="add a step of kind 'render' or 'print' before the end",
        )
    end = conversion(domain, "scene") if output.kind == "scene" else []
    return [*legs, Leg(None, None, (*end, *_encode(output)))]


def straight_into(look: Look) -> int | None:
    """Place of the first step where it takes the source's display light as it is, with no way over scene light.

    A LUT made for that very signal: to the scene and back would move colours on the display's edge.
    """
    for index, step in look.indexed_steps():
        return index if step.fed_by(look.source.signal()) else None
    return None


def _check_order(where: str, domain: Domain, takes: Domain, gives: Domain, crossed_by: str, output: Signal) -> None:
    """Refuse a step that cannot stand where it does; ``crossed_by`` made display light before it."""
    if domain == "display" and takes != "display":
        raise RecipeError(
            where,
            f"needs {DOMAIN_WORDS[takes]}, but {crossed_by} already made display light",
            hint="leave one of the two out" if gives == "display" else f"move it before {crossed_by.split(' ', 2)[-1]}",
        )
    if domain != "display" and takes == "display":
        raise RecipeError(
            where,
            "needs display light, but no step before it makes any",
            hint="put 'render' or 'print' before it",
        )
    if gives == "display" and takes != "display" and output.kind == "scene":
        raise RecipeError(
            where,
            f"makes display light, but the output {output.encoding.name!r} carries scene light",
            hint="leave the step out, or choose a display output such as 'BT.1886'",
        )


def does_nothing(step: Step) -> bool:
    """Whether a step may be left out of the path: neutral, no rendering, and no change of domain."""
    takes, gives = step.domains()
    return step.is_neutral() and not step.rendering and takes == gives


def prepared(index: int, step: Step, context: Context) -> Op:
    """The step's scalar work; its faults name the step by its number."""
    try:
        return step.prepare(context)
    except LookwrightError as exc:
        raise RecipeError(f"step {index + 1} {step.kind!r}, {exc.where}", exc.got, exc.expected, exc.hint) from None


def stages(look: Look, keep_neutral: bool = True) -> list[Stage]:
    """The path in parts: decoding, one part for each step that is on, encoding.

    The parts in order are what :func:`compile_look` folds; see :mod:`.staged` for those who vary one step and keep what
    the steps before it made. ``keep_neutral`` False leaves out steps that do nothing.

    Raises :class:`RecipeError` as :func:`route` does, and for a step that cannot be prepared.
    """
    context = context_of(look)
    found = []
    for leg in route(look):
        own = None
        if leg.step is not None and leg.index is not None and not leg.needless:
            own = prepared(leg.index, leg.step, context) if keep_neutral or not does_nothing(leg.step) else None
        found.append(Stage(leg.index, leg.before, own))
    return found


def context_of(look: Look) -> Context:
    """What the steps of a look may know of it."""
    return Context(look.source.signal(), look.output.signal(), look.folder)


def compile_look(look: Look) -> Pipeline:
    """Order, convert, leave out what is neutral, fold.

    Raises :class:`RecipeError` as :func:`stages` does.
    """
    ops: list[Op] = []
    for stage in stages(look, keep_neutral=False):
        ops += stage.before
        if stage.own is not None:
            ops.append(stage.own)
    return Pipeline(look, look.source.signal(), look.output.signal(), tuple(folded(ops)))


def _decode(source: Signal, shown: bool = False) -> list[Op]:
    """From code values to scene light; to display light where it is wanted as it is ``shown``."""
    ops: list[Op] = []
    if source.range != "full":
        ops.append(Op(f"{source.range} to full range", lambda x: to_full(x, source.range)))
    name = source.encoding.name
    if source.kind == "display":
        ops.append(Op(f"decode {name}", source.encoding.decode))
        ops.append(Op("to display primaries", matrix=matrix(source.primaries.name, DISPLAY_PRIMARIES)))
        if not shown:
            ops.append(Op("unrender", lambda x: plain_scene(x, source)))
        return ops
    if not source.encoding.linear:
        same_as_log = source.encoding.decode is curves.acescct_decode
        ops.append(
            Op(
                "log to light" if same_as_log else f"decode {name}",
                source.encoding.decode,
                inverse="light to log" if same_as_log else "",
            )
        )
    ops.append(Op("to scene primaries", matrix=matrix(source.primaries.name, SCENE_PRIMARIES)))
    return ops


def _carried(light: Array, peak: float) -> Array:
    """Within 0..peak, NaN kept. Light below ``DARKEST`` is none."""
    out = np.clip(light, 0.0, peak)
    out[out < DARKEST] = 0.0
    return out


def _encode(output: Signal) -> list[Op]:
    """From scene or display light to code values."""
    name = output.encoding.name
    middle = SCENE_PRIMARIES if output.kind == "scene" else DISPLAY_PRIMARIES
    ops = [Op("to output primaries", matrix=matrix(middle, output.primaries.name))]
    if output.kind == "display":
        peak = output.encoding.peak
        ops.append(Op(HELD, lambda x: _carried(x, peak)))
    if not output.encoding.linear:
        same_as_log = output.encoding.encode is curves.acescct_encode
        ops.append(
            Op(
                "light to log" if same_as_log else f"encode {name}",
                output.encoding.encode,
                inverse="log to light" if same_as_log else "",
            )
        )
    if output.range != "full":
        ops.append(Op(f"full to {output.range} range", lambda x: from_full(x, output.range)))
    return ops
