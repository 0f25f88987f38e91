"""What a job is given besides files: plain words. Imports nothing heavy, so that options may be made of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

MARKS = "marks.toml"
"""Where marks are looked for when no file is named: beside the still."""

LUT_ENDINGS = (".cube", ".clf", ".cc", ".ccc", ".cdl", ".png", ".tif", ".tiff")


@dataclass(frozen=True)
class SignalName:
    """A signal by its published names: what the camera gives, in place of a look's own source, or what a LUT file is
    fed or gives, where nothing in it says so."""

    encoding: str
    primaries: str | None = None
    """None: those usual for the encoding."""
    range: Literal["full", "legal"] = "full"


def is_lut(path: Path) -> bool:
    """Whether the name's ending is that of a LUT file."""
    return path.suffix.lower() in LUT_ENDINGS
