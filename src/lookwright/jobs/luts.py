"""Reading a LUT as a look where a look or a LUT may be given. Apart, because the readers of LUTs take time to load."""

from __future__ import annotations

from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import WrongUse
from lookwright.look.baking.foreign import look_of_lut, own_recipe
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.write import look_text

from .given import SignalName, is_lut
from .looks import load_look, signal_of
from .names import plain_name

NOT_FOR_LUTS = "--strength is for looks; a LUT has the strength it was baked with"


def name_of(path: Path, correction: str | None) -> str:
    """What results are called after: the file, with its correction where one of several was chosen."""
    return path.stem if correction is None else f"{path.stem}-{plain_name(correction)}"


def signals_of_lut(
    path: Path, source: SignalName | None, output: SignalName | None, correction: str | None = None
) -> tuple[Signal | None, Signal | None]:
    """The signals said; raises :class:`WrongUse` for what a look says itself: what it gives, and its corrections."""
    if not is_lut(path) and output is not None:
        raise WrongUse("--output is for LUT files; a look says what it gives, and 'new --from' changes it")
    if not is_lut(path) and correction is not None:
        raise WrongUse("--correction is for .cc, .ccc and .cdl files; a look names one as FILE:ID in its step 'lut'")
    return signal_of(source), signal_of(output)


def load_look_or_lut(
    path: Path,
    source: SignalName | None = None,
    output: SignalName | None = None,
    strength: float | None = None,
    table: bool = False,
    correction: str | None = None,
) -> tuple[Look, str]:
    """A look with its exact text; for a LUT file the recipe in it, or a look that sends its source through it.

    ``source`` takes the place of a look's own. With ``table`` a file of our own is taken by its table too.
    ``correction`` is the id of one in an ASC CDL collection.

    Raises
    ------
    WrongUse
        For an output or a correction said of a look, or a strength asked of a table.
    LookwrightError
        For a file that cannot be read, or a LUT of which nothing says what it is fed and gives.
    """
    signals = signals_of_lut(path, source, output, correction)
    if not is_lut(path):
        return load_look(path, strength, source)
    if table and strength is not None:
        raise WrongUse(NOT_FOR_LUTS)
    look = look_of_lut(path, *signals, table=table, correction=correction)
    text = None if table else own_recipe(path)
    return (look if strength is None else look.with_strength(strength)), (look_text(look) if text is None else text)
