"""The look inside a .cube, and whether its table is still that look."""

from __future__ import annotations

import contextlib
import os
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.errors import LookwrightError, LutFileError
from lookwright.look.recipe.formats import current_text
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.fit.refine import SEEDS, refine
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.formats.cube_parser import CubeFile
from lookwright.lut.formats.embed import extract
from lookwright.lut.lattices.lattice import Lattice

from .bake import bake, for_lut

ONE_DIGIT = 1.5e-6
"""Six decimals are written; another processor may round the last one the other way."""

_REFINED = re.compile(r"Refined by least squares, bound ([0-9]+(?:\.[0-9]+)?) CIEDE2000, seed (\d+), (.*)")
_STRENGTH = re.compile(r"Strength: ([0-9.eE+-]+)")


@dataclass(frozen=True)
class Recovered:
    """What a .cube carries."""

    path: Path
    file: CubeFile
    text: str
    """The recipe in the present format: byte for byte what is inside, where that is of this format or a newer one."""


@dataclass(frozen=True)
class Outcome:
    """Whether the table is the look's."""

    matches: bool
    words: str
    largest: float | None = None
    """Largest difference of signal."""


def recovered(path: os.PathLike[str] | str) -> Recovered:
    """Read a .cube and take its recipe out.

    Raises :class:`LutFileError` for a file without one, or with one that was changed.
    """
    path = Path(path)
    file = read_cube(path)
    try:
        text = extract(file.comments)
    except LutFileError as exc:
        raise LutFileError(f"{path}, {exc.where}", exc.got, exc.expected, exc.hint) from None
    if text is None:
        raise LutFileError(
            str(path),
            "carries no recipe",
            "a .cube written by lookwright",
            "say with --source and --output what it is fed and gives, and a recipe is looked for",
        )
    with contextlib.suppress(LookwrightError, ValueError, RecursionError):  # what cannot be read comes back as it is
        text = current_text(text)
    return Recovered(path, file, text)


def compare(found: Recovered, samples: ArrayLike | None = None) -> Outcome:
    """Bake the recipe again and hold it against the table.

    ``samples`` are the pixels that a refined table was fitted to (``sample_stills``), where they are at hand.
    """
    lattice = found.file.lattice
    if lattice is None or not lattice.unit_domain:
        return Outcome(False, "the table is not one that this program writes")
    try:
        look = parse_look(found.text, f"recipe in {found.path}").with_folder(found.path.parent)
        if strength := _first(_STRENGTH, found.file):
            look = look.with_strength(float(strength[1]))
        pipeline = compile_look(look)
        plain = bake(pipeline, lattice.size)
    except LookwrightError as exc:
        return Outcome(False, f"the recipe cannot be baked again here: {exc.line()}")
    refined = _first(_REFINED, found.file)
    if refined is None:
        return _exactly(lattice, plain)
    if samples is not None:
        if int(refined[2]) not in SEEDS:
            return Outcome(False, f"its header names seed {refined[2]}, which no refinement has")
        again = refine(for_lut(pipeline), lattice.size, samples, seed=int(refined[2]), bound=float(refined[1]))
        if again.made_by != refined[0]:
            return Outcome(False, "these are not the stills it was refined on: leave --stills out")
        return _exactly(lattice, again.lattice)
    return _within(lattice, plain, pipeline, float(refined[1]))


def _first(pattern: re.Pattern[str], file: CubeFile) -> re.Match[str] | None:
    # Above the recipe only: a recipe's own remarks may say anything.
    for line in file.comments:
        if line.startswith("recipe, "):
            break
        if match := pattern.fullmatch(line.strip()):
            return match
    return None


def _exactly(lattice: Lattice, again: Lattice) -> Outcome:
    largest = float(np.abs(lattice.table - np.round(again.table, 6)).max())
    if largest < 1e-9:
        return Outcome(True, "the table is the look's, to the last digit", largest)
    if largest <= ONE_DIGIT:
        return Outcome(True, "the table is the look's; some last digits are rounded the other way", largest)
    off = int((np.abs(lattice.table - again.table).max(axis=-1) > ONE_DIGIT).sum())
    return Outcome(
        False,
        f"the table is not what the recipe gives: {off} of {lattice.size**3} points differ, by up to {largest:.6f}",
        largest,
    )


def _within(lattice: Lattice, plain: Lattice, pipeline: Pipeline, bound: float) -> Outcome:
    """A refined table without its stills: greys exact, and no point further from the look than the bound."""
    n = lattice.size
    axis = np.arange(n)
    greys = float(np.abs(lattice.table - plain.table)[axis, axis, axis].max())
    largest = float(np.abs(lattice.table - plain.table).max())
    to_lab = lab_of(pipeline.output)
    moved: Array = ciede2000(to_lab(lattice.table.reshape(-1, 3)), to_lab(plain.table.reshape(-1, 3)))
    far = int((moved > bound).sum())
    if greys > ONE_DIGIT or far:
        what = f"greys differ by up to {greys:.6f}" if greys > ONE_DIGIT else f"{far} of {n**3} points differ too much"
        return Outcome(False, f"the table is not a refined form of what the recipe gives: {what}", largest)
    return Outcome(
        True,
        f"the table is a refined form of the look: greys exact, no point further than {bound:g} CIEDE2000 (give the "
        "--stills it was refined on to compare the last digit)",
        largest,
    )
