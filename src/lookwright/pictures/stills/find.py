"""Turn what a user names (files, folders, patterns) into a list of stills."""

from __future__ import annotations

import glob
import os
import re
from collections.abc import Iterable
from pathlib import Path

from lookwright.errors import PictureError

from .formats import SUFFIXES


def natural_key(path: Path) -> tuple[tuple[int, int, str], ...]:
    """Sort key that puts ``shot 9`` before ``shot 10`` and ignores case."""
    parts = re.split(r"([0-9]+)", str(path).casefold())
    return tuple((0, int(p), p) if p.isdecimal() else (1, 0, p) for p in parts if p)


def find_stills(paths: os.PathLike[str] | str | Iterable[os.PathLike[str] | str]) -> list[Path]:
    """List the stills that ``paths`` name, in natural order, each once.

    Parameters
    ----------
    paths
        One or several: files (any suffix; the reader judges the content), folders (their pictures, not
        those of folders inside), or patterns with ``*``, ``?``, ``[...]``. Hidden files, and with them
        unfinished ``.writing-`` files, are left out of folders and patterns.

    Raises
    ------
    PictureError
        A name that does not exist, or a folder or pattern without any picture.
    """
    if isinstance(paths, str | os.PathLike):
        paths = [paths]
    found: dict[str, Path] = {}
    for given in paths:
        for path in _expand(Path(given)):
            found.setdefault(os.path.abspath(path), path)
    if not found:
        raise PictureError("stills", "none were named", "files, folders or patterns")
    return sorted(found.values(), key=natural_key)


def _is_picture(path: Path) -> bool:
    return path.suffix.lower() in SUFFIXES and not path.name.startswith(".") and path.is_file()


def _expand(given: Path) -> list[Path]:
    kinds = ", ".join(SUFFIXES)
    try:
        if given.is_dir():
            inside = [p for p in given.iterdir() if _is_picture(p)]
            if not inside:
                raise PictureError(str(given), "the folder holds no stills", kinds)
            return inside
        if given.exists():
            return [given]
    except (OSError, ValueError) as exc:
        raise PictureError(str(given), getattr(exc, "strerror", None) or "cannot be read") from None
    if glob.has_magic(str(given)):
        matched = [p for p in map(Path, glob.glob(str(given), recursive=True)) if _is_picture(p)]
        if not matched:
            raise PictureError(str(given), "no still matches this pattern", kinds)
        return matched
    raise PictureError(str(given), "there is no such file or folder")
