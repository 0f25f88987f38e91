"""Turn what a user names into a list of shots: clips and stills."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from lookwright.pictures.stills.find import find_files, is_picture
from lookwright.pictures.stills.formats import SUFFIXES

CLIPS = (".mov", ".mp4", ".m4v", ".mkv")
"""Endings by which a folder's files are taken for clips; what they are is told by their content."""


def is_clip(path: Path) -> bool:
    """Whether a folder's file is taken for a clip: by its name, hidden ones left out."""
    return path.suffix.lower() in CLIPS and not path.name.startswith(".") and path.is_file()


def is_shot(path: Path) -> bool:
    """A clip or a still."""
    return is_clip(path) or is_picture(path)


def find_shots(paths: os.PathLike[str] | str | Iterable[os.PathLike[str] | str]) -> list[Path]:
    """The clips and stills that ``paths`` name, in natural order, each once; as :func:`find_stills`."""
    return find_files(paths, is_shot, "clips or stills", (*CLIPS, *SUFFIXES))
