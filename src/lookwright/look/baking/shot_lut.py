"""One LUT for one shot: its ASC CDL, then the look, in one lattice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from lookwright.look.recipe.pipeline import Pipeline
from lookwright.look.steps.base import Op
from lookwright.lut.formats.cdl import Correction
from lookwright.lut.lattices.lattice import Lattice
from lookwright.version import __version__

from .bake import bake, recipe_hash

UNMATCHED = "This shot was not matched: there is no correction in it."
"""Words of a correction that does nothing because nothing is known."""


def with_correction(pipeline: Pipeline, correction: Correction) -> Pipeline:
    """The look with a correction of its source signal before it, not clamped between the two."""
    words = f"ASC CDL of {correction.id}" if correction.id else "ASC CDL"
    return replace(pipeline, ops=(Op(words, correction), *pipeline.ops))


def shot_lut(
    pipeline: Pipeline,
    correction: Correction,
    recipe: str,
    size: int = 33,
    progress: Callable[[int, int], None] | None = None,
    threads: int | None = None,
) -> Lattice:
    """The lattice of one shot, its header saying which.

    Parameters
    ----------
    correction
        With the shot's name as its id.
    recipe
        The exact text of the look; only its hash goes into the header, since the LUT is more than the look.
    """
    lattice = bake(with_correction(pipeline, correction), size, progress, threads)
    title = f"{correction.id}: {pipeline.look.title}" if pipeline.look.title else correction.id
    return replace(lattice, title=title[:200], comments=tuple(_header(pipeline, correction, recipe)))


def _header(pipeline: Pipeline, correction: Correction, recipe: str) -> list[str]:
    def triple(values: tuple[float, float, float]) -> str:
        return " ".join(f"{v:.6f}" for v in values)

    strength = pipeline.look.strength
    return [
        f"Shot: {correction.id[:200]}",
        "For this shot only: its ASC CDL, then the look, in one. Do not apply the CDL again.",
        *([UNMATCHED] if UNMATCHED in correction.words else []),
        f"Feed it: {pipeline.source.describe()}",
        f"It gives: {pipeline.output.describe()}",
        "Interpolate: tetrahedral where offered, else trilinear",
        *([f"Strength: {strength:g}"] if strength != 1.0 else []),
        f"ASC CDL slope: {triple(correction.slope)}",
        f"ASC CDL offset: {triple(correction.offset)}",
        f"ASC CDL power: {triple(correction.power)}",
        f"ASC CDL saturation: {correction.saturation:.6f}",
        f"Written by lookwright {__version__}",
        f"SHA-256 of the look's recipe: {recipe_hash(recipe)}",
    ]
