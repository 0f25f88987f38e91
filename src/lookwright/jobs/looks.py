"""Reading a look, and a signal by its name."""

from __future__ import annotations

from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.read import parse_look, read_text
from lookwright.look.recipe.variants import with_signal

from .given import SignalName


def signal_of(name: SignalName | None) -> Signal | None:
    """The signal of that name; raises :class:`NameLookupError` for one that is not known."""
    return None if name is None else Signal.named(name.encoding, name.primaries, name.range)


def load_look(path: Path, strength: float | None = None, source: SignalName | None = None) -> tuple[Look, str]:
    """The look and its exact text.

    ``source`` takes the place of the look's own, in the text too, so that what is made of it says what to feed it.

    Raises :class:`RecipeError` for a file that is no look, :class:`NameLookupError` for a signal that is not known.
    """
    text = read_text(path)
    look = parse_look(text, str(path)).with_folder(path.parent)
    if (signal := signal_of(source)) is not None:
        changed = with_signal(look, text, "source", signal)
        look, text = changed.look, changed.text
    return (look if strength is None else look.with_strength(strength)), text
