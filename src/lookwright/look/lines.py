"""Where a key of a TOML text stands, so that faults can name the line."""

from __future__ import annotations

import re

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"""^\s*("[^"]*"|'[^']*'|[A-Za-z0-9_.-]+)\s*=""")

_LONG = ('"""', "'''")


def line_of(text: str, path: tuple[str | int, ...]) -> int | None:
    """1-based line of ``path`` such as ``("step", 2, "pull")``; of its nearest parent when it has none.

    Arrays of tables are counted by their ``[[name]]`` headers. Inline tables and arrays give the line
    of their key.
    """
    names: list[str] = [p for p in path if isinstance(p, str)]
    wanted: list[int] = []
    counters: dict[str, int] = {}
    best: tuple[int, int] | None = None
    table: list[str] = []
    indices: dict[str, int] = {}
    for i, p in enumerate(path):
        if isinstance(p, int):
            wanted.append(p)
            indices[".".join(str(q) for q in path[:i] if isinstance(q, str))] = p
    quote = ""  # the marks that end the long string we are in
    for number, line in enumerate(text.splitlines(), start=1):
        if quote:
            quote = "" if quote in line else quote
            continue
        header = _HEADER.match(line)
        if header:
            table = [part.strip().strip("\"'") for part in header[2].split(".")]
            name = ".".join(table)
            if header[1] == "[[":
                counters[name] = counters.get(name, -1) + 1
                for other in [c for c in counters if c.startswith(name + ".")]:
                    del counters[other]
            depth = len(table)
            if table == names[:depth] and _same_index(table, counters, indices):
                best = max(best or (0, 0), (depth, number), key=lambda b: b[0])
            continue
        key = _KEY.match(line)
        if key:
            value = line[key.end() :].lstrip()
            quote = value[:3] if value[:3] in _LONG and value.count(value[:3]) == 1 else ""
        if key and _same_index(table, counters, indices):
            here = table + key[1].strip("\"'").split(".")
            depth = len(here)
            if here == names[:depth] and depth > (best or (0, 0))[0]:
                best = (depth, number)
    return best[1] if best else None


def _same_index(table: list[str], counters: dict[str, int], indices: dict[str, int]) -> bool:
    for depth in range(1, len(table) + 1):
        name = ".".join(table[:depth])
        if name in indices and counters.get(name, 0) != indices[name]:
            return False
    return True
