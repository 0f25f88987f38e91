"""Baking a look: the lattice, and the header that says what it is."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from lookwright.look.recipe.pipeline import Pipeline
from lookwright.look.steps.base import Op
from lookwright.lut.formats.embed import embed
from lookwright.lut.lattices.lattice import Lattice, sample
from lookwright.version import __version__

SIZES = (17, 33, 65)
"""The sizes every consumer reads (measured; see DEVELOPERS.md)."""


def for_lut(pipeline: Pipeline) -> Pipeline:
    """The look as a LUT carries it: a log output is held to code values 0..1.

    Scene light of extreme colours may be far below zero, where a log encoding runs out straight: codes of -300 occur.
    No signal carries them, and as lattice values they would spoil every colour of their cells.
    """
    encoding = pipeline.output.encoding
    if encoding.kind != "scene" or encoding.linear:
        return pipeline
    hold = Op("hold to code values 0 to 1", lambda x: np.clip(x, 0.0, 1.0))
    return replace(pipeline, ops=(*pipeline.ops, hold))


def bake(
    pipeline: Pipeline, size: int = 33, progress: Callable[[int, int], None] | None = None, threads: int | None = None
) -> Lattice:
    """Sample the look on a ``size``^3 lattice over 0..1 of its source signal.

    A log output is held to 0..1 (:func:`for_lut`). The values do not depend on the number of threads. Raises
    :class:`LutFileError` for a size outside 2..129.
    """
    return sample(for_lut(pipeline).run, size, threads=threads, progress=progress, title=pipeline.look.title)


def recipe_hash(text: str) -> str:
    """SHA-256 of the recipe's text in UTF-8, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def header(pipeline: Pipeline, recipe: str, made_by: str = "", certificate: Sequence[str] = ()) -> list[str]:
    """Comment lines for a .cube: what to feed it, what it gives, how near the look it is, and the whole recipe.

    ``recipe`` is the exact text of the look file, so that it can be taken out again byte for byte; ``certificate`` are
    lines on errors (``lut.fit.fidelity``).
    """
    strength = pipeline.look.strength
    lines = [
        f"Feed it: {pipeline.source.describe()}",
        f"It gives: {pipeline.output.describe()}",
        "Interpolate: tetrahedral where offered, else trilinear",
    ]
    if strength != 1.0:
        lines.append(f"Strength: {strength:g}")
    if made_by:
        lines.append(made_by)
    lines += certificate
    lines.append(f"Written by lookwright {__version__}")
    lines.append(f"Recipe SHA-256: {recipe_hash(recipe)}")
    return [*lines, *embed(recipe)]


def baked(
    pipeline: Pipeline, recipe: str, size: int = 33, progress: Callable[[int, int], None] | None = None
) -> Lattice:
    """:func:`bake` with :func:`header` in the lattice's comments, ready for ``write_cube``."""
    return replace(bake(pipeline, size, progress), comments=tuple(header(pipeline, recipe)))
