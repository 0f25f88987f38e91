"""What a delivery holds, as its card and its manifest tell of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import Look
from lookwright.lut.fit.fidelity import Report as Errors


@dataclass(frozen=True)
class Item:
    """One file (or folder) of a delivery, as the card and the manifest tell of it."""

    file: str
    title: str
    where: str
    """Where in the chain it goes."""
    feed: str = ""
    gives: str = ""
    interpolation: str = ""
    grey: str = ""
    """What an 18 % grey card does, in 10-bit codes: a test of whether the LUT is fed rightly."""
    errors: Errors | None = None
    note: str = ""
    read_back: float | None = None
    """Largest difference found on reading the file again."""
    files: tuple[str, ...] = ()
    """The files of a folder."""


@dataclass(frozen=True)
class Delivery:
    """What was made, and what was not and why."""

    look: Look
    name: str
    text: str
    output: Signal
    """What the display LUTs give."""
    items: tuple[Item, ...]
    missing: tuple[tuple[str, str], ...]
    """Name of a thing and the reason why it is not there."""
    restraint: str = ""
    """One line from the check."""
    agreement: tuple[str, ...] = ()
    """How far the LUTs for other cameras agree with these; none where there is one camera."""
    manifest: dict[str, Any] = field(default_factory=dict)
