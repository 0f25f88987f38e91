"""LUT files that did not come from a look at hand: what they are fed, and a look that wraps one.

A file of our own says what it is fed; for any other it must be said, because nothing in a LUT tells.
"""

from __future__ import annotations

from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LutFileError, RecipeError
from lookwright.look.recipe.model import Look, SignalText
from lookwright.look.recipe.read import parse_look
from lookwright.look.steps.base import Step
from lookwright.look.steps.lut import Lut, LutSignal
from lookwright.look.steps.render import Render
from lookwright.lut.formats.clf import read_clf
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.formats.embed import extract
from lookwright.lut.formats.hald import read_hald
from lookwright.lut.formats.read import read_lut
from lookwright.lut.lattices.lattice import Lattice


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


def look_of_lut(path: Path, source: Signal | None = None, output: Signal | None = None, table: bool = False) -> Look:
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

    Raises :class:`LutFileError` or :class:`RecipeError` as :func:`declared`.
    """
    source, output, own = declared(path, source, output)
    if own is not None and not table:
        return own
    read_lut(path)  # a fault in the file is reported under its own name, not as a fault of a step

    def words(signal: Signal) -> dict[str, str]:
        return {"encoding": signal.encoding.name, "primaries": signal.primaries.name, "range": signal.range}

    lut = Lut(
        file=path.name,
        input=LutSignal.model_validate(words(source)),
        output=LutSignal.model_validate(words(output)),
    )
    # A display source begins as the scene light whose plain rendering it is; 'render' brings it back.
    steps: tuple[Step, ...] = (Render(), lut) if source.kind == "display" else (lut,)
    return Look(
        title=path.stem[:120],
        source=SignalText.model_validate(words(source)),
        output=SignalText.model_validate(words(output)),
        steps=steps,
    ).with_folder(path.parent)


def direct_lattice(look: Look) -> Lattice | None:
    """The very lattice of the file that :func:`look_of_lut` wrapped, where it is one; else None.

    Sampling a LUT on another lattice would cost accuracy for nothing.
    """
    steps = look.steps[1:] if look.steps[:1] == (Render(),) and look.source.signal().kind == "display" else look.steps
    if len(steps) != 1 or not isinstance(steps[0], Lut) or look.strength != 1.0:
        return None
    lut = steps[0]
    same = lut.input.signal() == look.source.signal() and lut.output.signal() == look.output.signal()
    if not (lut.on and lut.amount == 1.0 and same):
        return None
    path = look.folder / lut.file
    if path.suffix.lower() == ".cube":
        file = read_cube(path)
        return file.lattice if file.curves is None else None
    return read_hald(path) if path.suffix.lower() in (".png", ".tif", ".tiff") else None
