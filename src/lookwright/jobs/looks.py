"""Reading a look, and a signal by its name."""

from __future__ import annotations

from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.read import parse_look, read_text

from .given import SignalName


def signal_of(name: SignalName | None) -> Signal | None:
    """The signal of that name; raises :class:`NameLookupError` for one that is not known."""
    return None if name is None else Signal.named(name.encoding, name.primaries, name.range)


def load_look(path: Path, strength: float | None = None) -> tuple[Look, str]:
    """The look and its exact text; raises :class:`RecipeError` for a file that is none."""
    text = read_text(path)
    look = parse_look(text, str(path)).with_folder(path.parent)
    return (look if strength is None else look.with_strength(strength)), text
