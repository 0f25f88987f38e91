"""Marks: named boxes on stills, with the level they should sit at.

A marks file is TOML, one table a still, one sub-table a mark::

    [close."face key"]
    box = [0.385, 0.33, 0.075, 0.07]   # x, y, width, height as fractions of the frame
    role = "key"                       # optional
    level = 60                         # optional: wanted level in percent of the signal

The still's name is the stem of its file, or the part of it before ``_``, ``-``,
``.`` or a space (``close`` stands for ``close_acescct.png``).
"""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright import safe_toml
from lookwright.errors import MarksError, did_you_mean
from lookwright.reading import read_bytes

from .picture import CodedStill, Still

ROLES = {
    "skin": "skin, evenly lit",
    "grey": "a neutral grey card or surface",
    "white": "a neutral white",
    "black": "a neutral black",
    "ambient": "a surface lit only by the surrounding light",
    "key": "what the main light falls on",
    "fill": "the side that only the fill light reaches",
    "lamp": "a practical lamp in the picture",
    "silhouette": "a dark shape before a lighter ground",
    "wall": "a background wall",
    "sky": "sky",
    "highlight": "a bright reflection",
    "shade": "a shaded surface",
}
"""Roles that measures and matching know. Any other word is kept and shown, and has no further effect."""

_KEYS = ("box", "role", "level")

_MOST_BYTES = 2_000_000
"""Some thirty thousand marks; a larger file is something else named by mistake."""
_SLACK = 1e-9  # fractions typed as decimals do not add to exactly one


@dataclass(frozen=True)
class Mark:
    """A named box on a still.

    Parameters
    ----------
    name
        What the box shows.
    box
        (x, y, width, height) as fractions 0..1 of the frame, from the top left corner.
    level
        Wanted signal level in percent, 0..100, or None.
    role
        What part it plays, see :data:`ROLES`, or None.

    Raises
    ------
    MarksError
        A box outside the frame or without area, a level out of range.
    """

    name: str
    box: tuple[float, float, float, float]
    level: float | None = None
    role: str | None = None

    def __post_init__(self) -> None:
        _check(self, f"mark {self.name!r}")


def _check(mark: Mark, where: str) -> None:
    if not mark.name.strip():
        raise MarksError(where, "the name is empty")
    if len(mark.box) != 4:
        raise MarksError(f"{where}, box", f"{len(mark.box)} numbers", "four: x, y, width, height")
    x, y, width, height = mark.box
    if not all(math.isfinite(v) for v in mark.box):
        raise MarksError(f"{where}, box", "a number is NaN or infinite", "fractions 0 to 1")
    if width <= 0 or height <= 0:
        raise MarksError(f"{where}, box", f"width {width:g}, height {height:g}", "both above 0")
    if x < 0 or y < 0 or x + width > 1 + _SLACK or y + height > 1 + _SLACK:
        raise MarksError(
            f"{where}, box",
            f"reaches x {x:g} to {x + width:g}, y {y:g} to {y + height:g}",
            "inside the frame, 0 to 1",
            "the four numbers are x, y, width, height as fractions",
        )
    if mark.level is not None and not 0 <= mark.level <= 100:
        raise MarksError(f"{where}, level", f"{mark.level:g}", "0 to 100 percent of the signal")


def read_marks(path: os.PathLike[str] | str) -> dict[str, list[Mark]]:
    """Read a marks file.

    Returns
    -------
    dict
        Still name to its marks, in the order of the file.

    Raises
    ------
    MarksError
        Missing or unreadable file, wrong TOML (with the line; a mark named twice is such a fault),
        unknown key (with the nearest known one), and every fault of a single mark.
    """
    path = Path(path)
    try:
        text = read_bytes(path, _MOST_BYTES, "a marks file", MarksError).decode("utf-8")
    except UnicodeDecodeError as exc:
        raise MarksError(str(path), f"not UTF-8 text (byte {exc.start})", "a TOML file") from None
    return parse_marks(text, str(path))


def parse_marks(text: str, where: str) -> dict[str, list[Mark]]:
    """The same from the text of a marks file; ``where`` begins every message."""
    try:
        # tomllib wants LF or CRLF and refuses a byte order mark, which some editors add.
        document = safe_toml.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError) as exc:
        got = "nested too deeply" if isinstance(exc, RecursionError) else str(exc)
        if isinstance(exc, ValueError) and not isinstance(exc, tomllib.TOMLDecodeError):
            got = "an integer with thousands of digits"  # Python's own limit
        hint = "is the mark there twice?" if "overwrite" in got or "twice" in got else ""
        raise MarksError(where, f"not valid TOML: {got}", hint=hint) from None
    marks: dict[str, list[Mark]] = {}
    for still, table in document.items():
        if not isinstance(table, dict):
            raise MarksError(f"{where}, {still}", "not a table of marks", f'[{still}."name of the mark"]')
        marks[still] = [_mark(f"{where}, {still}", name, entry) for name, entry in table.items()]
    if not marks:  # a table without marks is in order: all of a still's may have been taken out
        raise MarksError(where, "no marks in it", '[still."name of the mark"] with a box')
    return marks


def _mark(where: str, name: str, entry: Any) -> Mark:
    where = f"{where}, mark {name!r}"
    if not isinstance(entry, dict):
        raise MarksError(where, "not a table", "box = [x, y, width, height] and optional role, level")
    for key in entry:
        if key not in _KEYS:
            raise MarksError(where, f"unknown key {key!r}", hint=did_you_mean(key, _KEYS))
    box = entry.get("box")
    if box is None:
        raise MarksError(where, "no box", "box = [x, y, width, height]")
    if not isinstance(box, list) or not all(_is_number(v) for v in box):
        raise MarksError(f"{where}, box", _shown(box), "four numbers: x, y, width, height")
    level, role = entry.get("level"), entry.get("role")
    if level is not None and not _is_number(level):
        raise MarksError(f"{where}, level", _shown(level), "a number, 0 to 100 percent of the signal")
    if role is not None and (not isinstance(role, str) or not role.strip()):
        raise MarksError(f"{where}, role", _shown(role), "a word such as " + ", ".join(list(ROLES)[:5]))
    return _built(where, name, box, None if level is None else float(level), role)


def _is_number(value: object) -> bool:
    # Python's integers have no end, its floats do.
    return isinstance(value, float) or (type(value) is int and abs(value) < 10**300)


def _shown(value: object) -> str:
    """A value of the text as a message shows it, short."""
    try:
        return repr(value)[:60]
    except (RecursionError, ValueError):  # nested too deeply, or more digits than Python prints
        return f"a {type(value).__name__}"


def _built(where: str, name: str, box: list[float], level: float | None, role: str | None) -> Mark:
    """A mark whose faults name ``where`` (file and key, or the option) instead of the mark alone."""
    try:
        return Mark(name, tuple(float(v) for v in box), level, role)  # type: ignore[arg-type]
    except MarksError as exc:
        tail = exc.where.removeprefix(f"mark {name!r}")
        raise MarksError(where + tail, exc.got, exc.expected, exc.hint) from None


def parse_mark(text: str) -> Mark:
    """A mark from the command line: ``name=x,y,width,height`` as fractions of the frame.

    Raises
    ------
    MarksError
        Anything else.
    """
    where = f"--mark {text!r}"
    name, equals, numbers = text.rpartition("=")
    form = "name=x,y,width,height"
    if not equals or not name.strip():
        raise MarksError(where, "no name" if equals else "no '='", form)
    parts = numbers.split(",")
    if len(parts) != 4:
        raise MarksError(where, f"{len(parts)} number{'s' if len(parts) > 1 else ''}", form)
    try:
        box = [float(p) for p in parts]
    except ValueError:
        raise MarksError(where, "not numbers", form) from None
    return _built(where, name.strip(), box, None, None)


def marks_for(marks: Mapping[str, list[Mark]], path: os.PathLike[str] | str) -> list[Mark]:
    """The marks of one still: those under its stem, else under the longest beginning of it.

    A beginning counts only before ``_``, ``-``, ``.`` or a space, so ``close`` stands for
    ``close_acescct.png`` but not for ``closer.png``. Empty when none fit.
    """
    stem = Path(path).stem
    if stem in marks:
        return marks[stem]
    fits = [k for k in marks if stem.startswith(k) and k and stem[len(k)] in "_-. "]
    return marks[max(fits, key=len)] if fits else []


def region(picture: Still | CodedStill | NDArray[Any], mark: Mark) -> NDArray[Any]:
    """The pixels inside a mark, as a view.

    Parameters
    ----------
    picture
        A still or an array (H, W, ...).
    mark
        The box; its edges go to the nearest pixel edge, and at least one pixel remains.

    Returns
    -------
    array
        (h, w, ...), h and w at least 1, sharing memory with ``picture`` where that holds pixels.
    """
    if isinstance(picture, Still | CodedStill):
        height, width = picture.height, picture.width
    else:
        height, width = np.shape(picture)[:2]
    x, y, w, h = mark.box
    left, right = _edges(x, w, width)
    top, bottom = _edges(y, h, height)
    if isinstance(picture, Still | CodedStill):
        return picture.part(slice(top, bottom), slice(left, right))
    return np.asarray(picture)[top:bottom, left:right]


def _edges(start: float, extent: float, size: int) -> tuple[int, int]:
    first = min(math.floor(start * size + 0.5), size - 1)
    last = min(math.floor((start + extent) * size + 0.5), size)
    return first, max(last, first + 1)
