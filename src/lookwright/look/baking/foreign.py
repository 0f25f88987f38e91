"""LUT files that did not come from a look at hand: what they are fed, and a look that wraps one.

A file of our own says what it is fed; for any other it must be said, because nothing in a LUT tells.
"""

from __future__ import annotations

from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LutFileError, RecipeError
from lookwright.look.recipe.model import Look, SignalText
from lookwright.look.recipe.read import parse_look
from lookwright.look.steps.lut import Lut, LutSignal
from lookwright.lut.formats.clf import read_clf
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.formats.embed import extract
from lookwright.lut.formats.naming import joined_name, split_name
from lookwright.lut.formats.read import LutFile, read_lut
from lookwright.lut.lattices.interpolate import Interpolation


def own_recipe(path: Path) -> str | None:
    """The text of the recipe that a .cube or .clf written here carries, or None.

    Raises :class:`LutFileError` for a recipe that was changed after the file was written.
    """
    suffix = path.suffix.lower()
    if suffix == ".cube":
        return extract(read_cube(path).comments)
    if suffix == ".clf":
        return read_clf(path).recipe()
    return None


def own_look(path: Path) -> Look | None:
    """:func:`own_recipe` as a look, relative file names in it starting at the LUT's folder."""
    text = own_recipe(path)
    return None if text is None else parse_look(text, f"recipe in {path}").with_folder(path.parent)


def declared(path: Path, source: Signal | None, output: Signal | None) -> tuple[Signal, Signal, Look | None]:
    """What a LUT is fed and gives, by what was said or by its own recipe; and that recipe.

    Raises
    ------
    LutFileError
        When neither says, or both do and differ.
    RecipeError
        For a LUT that would turn display light back into scene light.
    """
    look = own_look(path)
    if look is not None:
        known = look.source.signal(), look.output.signal()
        for said, own, word in ((source, known[0], "--source"), (output, known[1], "--output")):
            if said is not None and said != own:
                raise LutFileError(str(path), f"its own recipe says {own.describe()}", hint=f"leave {word} out")
        source, output = known
    if source is None or output is None:
        missing = " and ".join(w for w, s in (("--source", source), ("--output", output)) if s is None)
        raise LutFileError(
            str(path),
            "the file does not say what it must be fed or what it gives",
            hint=f"say so with {missing}, by the names that 'lookwright encodings' lists",
        )
    if source.kind == "display" and output.kind == "scene":
        raise RecipeError(str(path), "turns display light back into scene light", "a LUT the other way round")
    return source, output, look


def look_of_lut(
    path: Path,
    source: Signal | None = None,
    output: Signal | None = None,
    table: bool = False,
    correction: str | None = None,
) -> Look:
    """A look whose only work is to send its source through the file.

    Parameters
    ----------
    path
        Any file that :func:`lookwright.lut.formats.read.read_lut` reads. A .cube or .clf of our own gives the look it
        was baked from.
    source, output
        What it must be fed and what it gives.
    table
        Take the table of our own files too, not the recipe in them.
    correction
        Which one of an ASC CDL collection.

    Raises :class:`LutFileError` or :class:`RecipeError` as :func:`declared` and
    :func:`lookwright.lut.formats.read.read_lut`.
    """
    # A fault in the file is reported under its own name, not as a fault of a step; and before what is only not said.
    read_lut(path, correction)
    source, output, own = declared(path, source, output)
    if own is not None and not table:
        return own

    def words(signal: Signal) -> dict[str, str]:
        return {"encoding": signal.encoding.name, "primaries": signal.primaries.name, "range": signal.range}

    lut = Lut(
        file=joined_name(path.name, correction),
        input=LutSignal.model_validate(words(source)),
        output=LutSignal.model_validate(words(output)),
    )
    return Look(
        title=(path.stem if correction is None else f"{path.stem} {correction}")[:120],
        source=SignalText.model_validate(words(source)),
        output=SignalText.model_validate(words(output)),
        steps=(lut,),
    ).with_folder(path.parent)


def direct_file(look: Look) -> tuple[LutFile, Interpolation] | None:
    """The file whose whole work the look is, as :func:`look_of_lut` makes one, and its interpolation; else None.

    It is then applied as it is: sampling it on a lattice would cost accuracy for nothing.
    """
    steps = look.steps
    if len(steps) != 1 or not isinstance(steps[0], Lut) or look.strength != 1.0:
        return None
    lut = steps[0]
    same = lut.input.signal() == look.source.signal() and lut.output.signal() == look.output.signal()
    if not (lut.on and lut.amount == 1.0 and same):
        return None
    return read_lut(lut.path(look.folder), split_name(lut.file)[1]), lut.interpolation
