"""Where a key of a TOML text stands, so that faults can name the line."""

from __future__ import annotations

import re
from functools import lru_cache

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"""^\s*("[^"]*"|'[^']*'|[A-Za-z0-9_.-]+)\s*=""")

_LONG = ('"""', "'''")

KeyPath = tuple[str | int, ...]


def line_of(text: str, path: KeyPath) -> int | None:
    """1-based line of ``path`` such as ``("step", 2, "pull")``; of its nearest parent when it has none.

    Arrays of tables are counted by their ``[[name]]`` headers. Inline tables and arrays give the line
    of their key.
    """
    lines = _lines(text)
    for depth in range(len(path), 0, -1):
        if path[:depth] in lines:
            return lines[path[:depth]]
    return None


# A text with many faults is asked about again and again; only the last text is kept.
@lru_cache(maxsize=1)
def _lines(text: str) -> dict[KeyPath, int]:
    """The line of every key and header of the text; where one stands twice, the first."""
    lines: dict[KeyPath, int] = {}
    arrays = _Array()  # the root: what [[name]] headers have been seen, and below each
    table: KeyPath = ()
    quote = ""  # the marks that end the long string we are in
    for number, line in enumerate(text.splitlines(), start=1):
        if quote:
            quote = "" if quote in line else quote
            continue
        header = _HEADER.match(line)
        if header:
            names = [part.strip().strip("\"'") for part in header[2].split(".")]
            table = arrays.path(names, another=header[1] == "[[")
            lines.setdefault(table, number)
            if isinstance(table[-1], int):
                lines.setdefault(table[:-1], number)
            continue
        key = _KEY.match(line)
        if key:
            value = line[key.end() :].lstrip()
            quote = value[:3] if value[:3] in _LONG and value.count(value[:3]) == 1 else ""
            quoted = key[1][0] in "\"'"
            lines.setdefault((*table, *([key[1][1:-1]] if quoted else key[1].split("."))), number)
    return lines


class _Array:
    """How many ``[[name]]`` there were of each name, those within the last of them below it."""

    def __init__(self) -> None:
        self.count = 0
        self.below: dict[str, _Array] = {}

    def path(self, names: list[str], another: bool) -> KeyPath:
        """The path that a header means; ``another`` for one in double brackets, which begins a new table."""
        here, parts = self, list[str | int]()
        for depth, name in enumerate(names, start=1):
            parts.append(name)
            here = here.below.setdefault(name, _Array())
            if another and depth == len(names):
                here.count += 1
                here.below = {}
            if here.count:
                parts.append(here.count - 1)
        return tuple(parts)
