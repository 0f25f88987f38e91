"""Turn what a user names (files, folders, patterns) into a list of stills."""

from __future__ import annotations

import glob
import os
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
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
    return find_files(paths, is_picture, "stills", SUFFIXES)


def find_files(
    paths: os.PathLike[str] | str | Iterable[os.PathLike[str] | str],
    wanted: Callable[[Path], bool],
    what: str,
    endings: Sequence[str],
) -> list[Path]:
    """:func:`find_stills` for files of another kind.

    Parameters
    ----------
    wanted
        Which files of a folder, or of what a pattern matches, are meant.
    what, endings
        What they are, in words and by their names' endings, for the errors.
    """
    if isinstance(paths, str | os.PathLike):
        paths = [paths]
    found: dict[str, Path] = {}
    for given in paths:
        for path in _expand(Path(given), wanted, what, ", ".join(endings)):
            found.setdefault(os.path.normcase(os.path.abspath(path)), path)
    if not found:
        raise PictureError(what, "none were named", "files, folders or patterns")
    return sorted(found.values(), key=natural_key)


def is_picture(path: Path) -> bool:
    """Whether a folder's file is taken for a still: by its name, hidden ones left out."""
    return path.suffix.lower() in SUFFIXES and not path.name.startswith(".") and path.is_file()


def _expand(given: Path, wanted: Callable[[Path], bool], what: str, kinds: str) -> list[Path]:
    try:
        if given.is_dir():
            inside = [p for p in given.iterdir() if wanted(p)]
            if not inside:
                raise PictureError(str(given), f"the folder holds no {what}", kinds)
            return inside
        if given.exists():
            return [given]
    except (OSError, ValueError) as exc:
        raise PictureError(str(given), getattr(exc, "strerror", None) or "cannot be read") from None
    if glob.has_magic(str(given)):
        matched = [p for p in _matches(str(given)) if wanted(p)]
        if not matched:
            raise PictureError(str(given), f"no {what.removesuffix('s')} matches this pattern", kinds)
        return matched
    raise PictureError(str(given), "there is no such file or folder")


def _matches(pattern: str) -> Iterator[Path]:
    """What a pattern matches; ``**`` goes through links to folders too, but into no folder twice."""
    parts = Path(pattern).parts
    if "**" not in parts:
        yield from map(Path, glob.iglob(pattern))
        return
    at = parts.index("**")
    rest = parts[at + 1 :] or ("*",)
    for base in glob.iglob(str(Path(*parts[:at]))) if at else ["."]:
        for folder in _folders(base):
            inner = Path(glob.escape(folder), *rest) if folder != "." else Path(*rest)
            yield from _matches(str(inner))


def _folders(base: str) -> Iterator[str]:
    """A folder and all in it that are not hidden, each once: a link back up would be followed for ever."""
    seen: set[tuple[int, int]] = set()
    for folder, inner, _ in os.walk(base, followlinks=True):
        try:
            found = os.stat(folder)
        except OSError:
            inner.clear()
            continue
        if (found.st_dev, found.st_ino) in seen:
            inner.clear()
            continue
        seen.add((found.st_dev, found.st_ino))
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        yield folder
