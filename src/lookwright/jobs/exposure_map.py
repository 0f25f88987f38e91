"""The exposure map in steps, baked into a .cube for a monitor or a player."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from lookwright.arrays import Array
from lookwright.assess.measure.levels import MIDDLE_GREY, display_light
from lookwright.assess.measure.stepped import Steps, Unit, step_values, steps_of
from lookwright.assess.measure.stepped_lattice import Border, Values, borders_of, map_lattice
from lookwright.colour.luma import luma_percent
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LutFileError, WrongUse
from lookwright.files import check_target
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.formats.cube import write_cube
from lookwright.outputs import Output
from lookwright.version import __version__

from .job import job
from .looks import load_look
from .progress import SILENT, Progress

Over = Literal["log", "picture"]


@dataclass(frozen=True)
class Mapped:
    """The file that was written."""

    file: Path
    size: int
    feed: str
    steps: Steps
    borders: tuple[Border, ...]

    @property
    def worst(self) -> float:
        """The largest shift of a border, in the unit of the steps."""
        return max((abs(b.error) for b in self.borders if b.error is not None), default=0.0)


def _default(look: Path) -> Path:
    return look.with_name(f"{look.stem}-map.cube")


@job(out=lambda given: [Output(given["out"] or _default(given["look"]), "cube")] if given["look"].name else [])
def exposure_map(
    look: Path,
    out: Path | None = None,
    *,
    size: int = 65,
    over: Over = "log",
    unit: Unit = "stops",
    bounds: Sequence[float] = (),
    off: Sequence[int] = (),
    progress: Progress = SILENT,
) -> Mapped:
    """Bake the map of a look's signals into a .cube.

    Parameters
    ----------
    out
        Ending in ``.cube``; None: the look's name and ``-map``, beside it.
    size
        Points on each side, 2 to 129: 65 keep steps of a stop apart, 33 blur them more.
    over
        What it is fed: the look's source signal, or the finished picture that the look gives.
    unit
        What the steps count: stops of scene light from middle grey, or percent of the finished picture's signal. Over
        the log signal, percent are those of the picture that the look makes of it.
    bounds, off
        Borders of the steps, rising (none: the usual ones); steps switched off, counted from 1: they show the picture
        in grey.

    Raises
    ------
    LookwrightError
        Where the look, the steps or the target cannot be used; before any work.
    Cancelled
        Through ``progress``; ``out`` is as it was.
    """
    model, _ = load_look(look)
    target = out if out is not None else _default(look)
    if target.suffix.lower() != ".cube":
        raise LutFileError(str(target), "the name does not end in .cube", hint="readers go by the ending")
    check_target(target)
    steps = steps_of(unit, bounds)
    if any(not 1 <= n <= steps.count for n in off):
        raise WrongUse(f"steps are numbered 1 to {steps.count}")
    fed, values, grey = _functions(model, over, unit)
    progress.check()
    lattice = map_lattice(values, grey, steps, size, [n - 1 for n in off], f"Exposure map, {model.title}"[:60])
    borders = tuple(borders_of(lattice, values, steps))
    progress.check()
    made = Mapped(target, size, fed.describe(), steps, borders)
    write_cube(target, replace(lattice, comments=tuple(header(made, off))))
    return made


def _functions(model: Look, over: Over, unit: Unit) -> tuple[Signal, Values, Values]:
    """What the map is fed, what its steps count there, and the picture's luma 0..1."""
    pipeline = compile_look(model)
    source, output = pipeline.source, pipeline.output
    if output.kind == "scene":
        output = Signal.named("BT.1886")

    def picture(codes: Array) -> Array:
        if output is pipeline.output:
            return pipeline.run(codes)
        return output.from_light(display_light(codes, source))

    if over == "picture":
        return output, lambda c: step_values(c, output, unit)[0], lambda c: luma_percent(c, output) / 100.0
    if unit == "stops":
        if source.kind != "scene":
            return source, lambda c: step_values(c, source, unit)[0], lambda c: luma_percent(c, source) / 100.0
        values: Values = lambda c: step_values(c, source, "stops")[0]  # noqa: E731
    else:
        values = lambda c: luma_percent(picture(c), output)  # noqa: E731
    return source, values, lambda c: luma_percent(picture(c), output) / 100.0


def header(made: Mapped, off: Sequence[int]) -> list[str]:
    """What it is fed, which colour is which step, and where each border truly lies."""
    unit = "stops from middle grey" if made.steps.unit == "stops" else "percent of signal"
    lines = [
        f"Feed it: {made.feed}",
        "It gives: the exposure map in steps, for looking at; not a picture to record",
        f"Steps in {unit} (middle grey is {MIDDLE_GREY} of a perfect white), with 8-bit codes of their colours:",
    ]
    for i, (label, colour) in enumerate(zip(made.steps.labels, made.steps.colours, strict=True), start=1):
        said = "off, picture in grey" if i in off else " ".join(f"{round(255 * c)}" for c in colour)
        lines.append(f"  {i}: {label.replace('−', '-')}: {said}")
    lines.append("Borders, for greys: asked, and where a tetrahedral and a trilinear lookup in this file have them:")
    for border in made.borders:
        if border.lies is None or border.code is None:
            lines.append(f"  {border.asked:g}: not reached by this signal, or beside a step that is off")
        else:
            code = f"code {border.code * 1023:.1f} of 1023"
            lines.append(f"  {border.asked:g}: {border.lies:.3f} ({code}) and {border.trilinear:.3f}")
    return [*lines, f"Written by lookwright {__version__}"]
