"""The format of a look file: its number, and what became of the keys of earlier ones.

A file says ``format = 2`` at its top; one that says nothing is of format 1. A key that changes its name gets a row in
:data:`RENAMED` and :data:`FORMAT` goes up by one: reading, writing anew and the hints of faults follow from the row.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from lookwright import safe_toml
from lookwright.errors import RecipeError

from .lines import KeyPath, line_of

FORMAT = 2
"""The format that is written, and the newest that is read."""


@dataclass(frozen=True)
class Renamed:
    """A key of a step that has another name from format ``since`` on."""

    since: int
    kind: str
    """Of the step."""
    tables: tuple[str, ...]
    """The tables inside the step that hold it; lists of tables count as one name."""
    old: str
    new: str

    def lock(self, name: str) -> str:
        """A name in the step's ``lock`` (``band.old``, ``band.1.old``) as it is now; another one unchanged."""
        *above, last = name.split(".")
        same = tuple(p for p in above if not p.isdigit()) == self.tables and last == self.old
        return ".".join([*above, self.new]) if same else name


RENAMED = (
    # It is Oklab C over L, colour in proportion to lightness: saturation (CIE S 017:2020, 17-22-073). Colourfulness
    # itself grows with the light.
    Renamed(2, "hues", ("band",), "colourfulness", "saturation"),
)


def stated_format(data: Mapping[str, Any], where: str) -> int:
    """The format a parsed look file states; 1 where it states none.

    Raises :class:`RecipeError`, naming ``where``, for one that is no whole number from 1 on, or newer than is known.
    """
    stated = data.get("format", 1)
    if isinstance(stated, bool) or not isinstance(stated, int) or stated < 1:
        got = "a table" if isinstance(stated, dict) else repr(stated)[:60]
        raise RecipeError(f"{where}, format", got, f"a whole number, at most {FORMAT}")
    if stated > FORMAT:
        raise RecipeError(
            f"{where}, format",
            f"made by a newer lookwright (format {str(stated)[:20]})",
            f"format {FORMAT} or earlier",
            "read it with that version or a later one",
        )
    return stated


def upgraded(data: Mapping[str, Any], stated: int) -> tuple[dict[str, Any], dict[KeyPath, KeyPath]]:
    """Data of a look file with the keys of format ``stated`` renamed, and where each new key stands in the text.

    A table that holds a key under both its names keeps both: the old one is then an unknown key, and told as such.
    """
    steps = data.get("step", [])
    moved: dict[KeyPath, KeyPath] = {}
    if isinstance(steps, list):
        for row in (r for r in RENAMED if stated < r.since):
            steps = [_renamed(s, row, row.tables, ("step", i), moved) for i, s in enumerate(steps)]
    return {k: steps if k == "step" else v for k, v in data.items()} | {"format": FORMAT}, moved


def _renamed(step: Any, row: Renamed, tables: tuple[str, ...], path: KeyPath, moved: dict[KeyPath, KeyPath]) -> Any:
    """One table of a step (the step itself, with all of ``tables`` still to go down) with the key renamed."""
    if isinstance(step, list):
        return [_renamed(s, row, tables, (*path, i), moved) for i, s in enumerate(step)]
    if not isinstance(step, dict) or (len(path) == 2 and step.get("kind") != row.kind):
        return step
    out = dict(step)
    if len(path) == 2 and isinstance(out.get("lock"), list):
        out["lock"] = [row.lock(n) if isinstance(n, str) else n for n in out["lock"]]
    if tables and tables[0] in out:
        out[tables[0]] = _renamed(out[tables[0]], row, tables[1:], (*path, tables[0]), moved)
    if not tables and row.old in out and row.new not in out:
        moved[*path, row.new] = (*path, row.old)
        out = {(row.new if k == row.old else k): v for k, v in out.items()}
    return out


def renamed_hint(old: str, names: Iterable[str]) -> str:
    """For a key of an earlier format in a file of a later one: what it is called among ``names`` now; may be empty."""
    known = set(names)
    return next((f"called {r.new!r} since format {r.since}" for r in RENAMED if r.old == old and r.new in known), "")


def current_text(text: str) -> str:
    """The text of a look in the present format: old keys renamed, ``format`` set, every remark kept.

    Text of the present format comes back as it is. Raises :class:`RecipeError` as :func:`stated_format` does, and
    ``tomllib.TOMLDecodeError`` for what is not TOML.
    """
    data = safe_toml.loads(text)
    stated = stated_format(data, "look")
    if stated == FORMAT:
        return text
    wanted, _ = upgraded(data, stated)
    new = _with_number(_with_names(text, stated), line_of(text, ("format",)) if "format" in data else None)
    if safe_toml.loads(new) == wanted:
        return new
    # Laid out so that its words cannot be told apart (an old name that stands for something else too): without remarks.
    import tomlkit  # slow to import, and only for what is written anew

    return tomlkit.dumps({"format": FORMAT} | wanted)


_WORDS = re.compile(
    r"""(?P<skip>\#[^\n]*|\"{3}(?:\\.|[^\\])*?\"{3}|'{3}.*?'{3})|(?P<quoted>"(?:\\.|[^"\\\n])*"|'[^'\n]*')|(?P<bare>[\w-]+)""",
    re.DOTALL,
)
"""Remarks and long strings, quoted words, bare words."""


def _with_names(text: str, stated: int) -> str:
    rows = [r for r in RENAMED if stated < r.since]

    def changed(match: re.Match[str]) -> str:
        word = match[0]
        is_key = re.match(r"\s*=", text[match.end() : match.end() + 20]) is not None
        for row in rows if not match["skip"] else ():
            name = word[1:-1] if match["quoted"] else word
            new = row.new if is_key and name == row.old else name
            if match["quoted"] and not is_key:
                new = row.lock(name)
            word = word.replace(name, new) if new != name else word
        return word

    return _WORDS.sub(changed, text)


def _with_number(text: str, line: int | None) -> str:
    """``format`` at the top of the text, or changed on the line where it stands."""
    lines = text.split("\n")
    if line is not None:
        lines[line - 1] = re.sub(r"(=\s*)[\w+]+", rf"\g<1>{FORMAT}", lines[line - 1], count=1)
        return "\n".join(lines)
    first = next((i for i, row in enumerate(lines) if row.strip() and not row.lstrip().startswith("#")), len(lines))
    # Not between a table's header and the remarks above it.
    at_top = first == len(lines) or lines[first].lstrip().startswith("[")
    new = [f"format = {FORMAT}", ""] if at_top else [f"format = {FORMAT}"]
    at = 0 if at_top else first
    return "\n".join([*lines[:at], *new, *lines[at:]])
