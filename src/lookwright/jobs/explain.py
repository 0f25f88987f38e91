"""A recipe for a LUT that came without one, and what it leaves as a LUT behind it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, LutFileError, OutputError
from lookwright.files import check_new, check_target, write_text
from lookwright.look.baking.foreign import declared
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.write import look_text
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.fit.prior import draw, even, natural
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.formats.read import LutFunction, read_lut
from lookwright.lut.lattices.interpolate import lookup
from lookwright.outputs import Output
from lookwright.solve.explain.explain import Explained
from lookwright.solve.explain.explain import explain as solve
from lookwright.solve.learn.learn import with_lattice
from lookwright.solve.learn.residual import Residual, learn_residual

from .given import SignalName
from .job import job
from .looks import signal_of
from .progress import SILENT, Progress

TAUGHT = 15_000
"""Natural colours that the rest is learnt from, and as many of the whole cube."""
JUDGED = 4_000


@dataclass(frozen=True)
class ExplainedLut:
    """The recipe, its text, and the LUT behind it."""

    path: Path
    explained: Explained
    text: str
    """The recipe alone; the file that was written also has the rest, as a last step."""
    rest: Path | None
    """The LUT with what the recipe leaves; None where nothing was written, or it cannot be carried."""
    why_no_rest: str
    mean: float
    """CIEDE2000 on natural colours with the rest."""

    @property
    def good(self) -> bool:
        """Whether the recipe alone may stand for the LUT."""
        return self.explained.good

    def words(self) -> str:
        """What it does and what is left, for a filmmaker."""
        found = self.explained
        steps = "; ".join(step.in_words() for step in found.look.steps) or "nothing but another encoding"
        verdict = "explains it" if self.good else "comes near it, no more"
        said = (
            f"A recipe of {len(found.look.steps)} step(s) and {found.numbers} number(s) {verdict}: it {steps}. It "
            f"leaves {found.mean:.2f} CIEDE2000 on natural colours in the mean, 99 % under {found.p99:.2f} "
            f"({found.plain:.2f} without it), and {found.cube:.2f} over the whole cube"
        )
        if self.rest is not None:
            said += f"; {self.rest.name} behind it carries the rest, and {self.mean:.2f} is left"
        elif self.why_no_rest:
            said += f"; the rest is not carried: {self.why_no_rest}"
        return said + "."

    def to_dict(self) -> dict[str, Any]:
        """All figures, ready for JSON."""
        found = self.explained
        return {
            "file": str(self.path),
            "look": self.text,
            "way": found.way,
            "steps": len(found.look.steps),
            "numbers": found.numbers,
            "mean": found.mean,
            "p99": found.p99,
            "whole_cube": found.cube,
            "without": found.plain,
            "explains": self.good,
            "rest": None if self.rest is None else str(self.rest),
            "mean_with_rest": self.mean,
            "words": self.words(),
        }


def _rest_of(out: Path) -> Path:
    return out.with_name(f"{out.stem}-rest.cube")


def _written(given: Any) -> list[Output]:
    out = given["out"]
    return [] if out is None else [Output(out, "look"), Output(_rest_of(out), "cube")]


@job(out=_written)
def explain(
    file: Path,
    source: SignalName | None = None,
    output: SignalName | None = None,
    out: Path | None = None,
    force: bool = False,
    progress: Progress = SILENT,
) -> ExplainedLut:
    """Find a recipe of few steps, ten numbers at most, that does what a LUT does.

    Parameters
    ----------
    file
        Any LUT that :func:`lookwright.lut.formats.read.read_lut` reads.
    source, output
        What it must be fed and what it gives; nothing in it tells.
    out
        The look to write; what it leaves goes beside it, as ``NAME-rest.cube`` and a last step. None: nothing.

    Raises
    ------
    LutFileError
        For a file that cannot be read, or signals that were not said.
    OutputError
        For an ``out`` that is there already (unless ``force``) or cannot be written.
    Cancelled
        Through ``progress``; nothing is written.
    """
    fed, gives, own = declared(file, signal_of(source), signal_of(output))
    if own is not None:
        raise LutFileError(str(file), "carries its own recipe", hint="leave --source and --output out to get that")
    if out is not None:
        if out.suffix.lower() != ".toml":
            raise OutputError(str(out), "the name does not end in .toml", hint="the recipe is a look file")
        for path in (out, _rest_of(out)):
            check_new(path, force)
            check_target(path)
    read = read_lut(file)

    def told(what: str) -> None:
        progress.check()
        progress.tell(f"trying {what}")

    found = solve(lambda code: np.asarray(read(code, "tetrahedral")), fed, gives, file.stem, told)
    text = look_text(found.look)
    if out is None:
        return ExplainedLut(file, found, text, None, "", found.mean)
    progress.tell("learning what it leaves")
    rest, why, mean = _rest(found, read, fed, gives)
    progress.check()
    if rest is not None:
        signal = gives.describe()
        comments = [f"What {out.name} leaves of {file.name}", f"Feed it: {signal}", f"It gives: {signal}"]
        write_cube(_rest_of(out), rest.lattice, title=f"{file.stem}: the rest"[:120], comments=comments)
    written = text if rest is None else with_lattice(text, found.look, _rest_of(out).name)
    write_text(out, written)
    return ExplainedLut(file, found, text, None if rest is None else _rest_of(out), why, mean)


def _rest(found: Explained, read: LutFunction, fed: Signal, gives: Signal) -> tuple[Residual | None, str, float]:
    """What the recipe leaves as a lattice, or why not; and the mean CIEDE2000 with it on colours not learnt from."""
    if found.mean < 0.02:
        return None, "next to nothing is left", found.mean
    recipe, prior = compile_look(found.look), natural(fed)

    def both(codes: Array) -> tuple[Array, Array]:
        return np.clip(recipe.run(codes), 0.0, 1.0), np.clip(read(codes, "tetrahedral"), 0.0, 1.0)

    try:
        rest = learn_residual(
            *both(np.concatenate([draw(prior, TAUGHT, 41), draw(even, TAUGHT, 42)])), where="what the recipe leaves"
        )
    except LookwrightError as exc:
        return None, exc.got, found.mean
    made, wanted = both(draw(prior, JUDGED, 51))
    to_lab = lab_of(gives)
    with_it = np.clip(lookup(rest.lattice, made, "tetrahedral"), 0.0, 1.0)
    mean = float(ciede2000(to_lab(with_it), to_lab(wanted)).mean())
    if mean > found.mean:
        return None, "a LUT behind the recipe would make it worse", found.mean
    return rest, "", mean
