"""Names of files and folders that every reader takes."""

from __future__ import annotations

from lookwright.colour.spaces.signal import Signal
from lookwright.lut.formats.cube import ascii_text
from lookwright.names import portable


def plain_name(text: str) -> str:
    """A file name that every reader takes: letters, digits, dot, hyphen and underscore."""
    kept = "".join(c if c.isalnum() or c in "._-" else "-" for c in ascii_text(text)).strip("-.")
    return portable("-".join(p for p in kept.split("-") if p)[:100] or "look")


def camera_name(signal: Signal) -> str:
    """What tells a camera's signal from others: its encoding, and its primaries and range where not the usual ones."""
    usual = signal.primaries.name == signal.encoding.primaries
    parts = (signal.encoding.name, "" if usual else signal.primaries.name, "" if signal.range == "full" else "legal")
    return plain_name("-".join(filter(None, parts)))
