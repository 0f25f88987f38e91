"""Writing a look: new text, or new values into existing text with its comments kept."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from .formats import current_text
from .model import Look

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

Change = Mapping[tuple[str | int, ...], Any]
"""Paths such as ``("step", 2, "pull")`` to their new values."""

_STEP = re.compile(r"^\s*\[\[\s*step\s*\]\]\s*(#.*)?$")
_TABLE = re.compile(r"^\s*\[\[?[^\[\],]+\]\]?\s*(#.*)?$")
"""A header, and no line of an array of arrays."""


def look_text(look: Look) -> str:
    """TOML text of a look, with only what differs from the defaults.

    Reading it back gives an equal look.
    """
    import tomlkit  # slow to import, and only where a look is written

    document = tomlkit.document()
    document.add("format", look.format)
    for key in ("title", "about"):
        if getattr(look, key):
            document.add(key, getattr(look, key))
    if look.strength != 1.0:
        document.add("strength", look.strength)
    for key in ("source", "output"):
        document.add(key, tomlkit.item(_told(getattr(look, key))))
    if look.steps:
        steps = tomlkit.aot()
        for step in look.steps:
            table = tomlkit.table()
            table.add("kind", step.kind)
            for name, value in _told(step).items():
                if name != "kind":
                    table.add(name, tomlkit.item(value))
            steps.append(table)
        document.add("step", steps)
    if look.limits:
        document.add("limits", tomlkit.item({k: _told(v) for k, v in look.limits.items()}))
    return tomlkit.dumps(document)


def _told(model: BaseModel) -> dict[str, Any]:
    """The fields of ``model`` that differ from their defaults, as plain data."""
    plain: dict[str, Any] = model.model_dump(mode="json", exclude_defaults=True, exclude_none=True)
    return plain


def with_changes(text: str, changes: Change) -> str:
    """``text`` with the given values set and everything else, comments too, as it was.

    Numbers are written with at most six significant digits: a look is read by people. Text of an earlier format is
    brought to the present one first; the paths are those of the present one.
    """
    import tomlkit
    from tomlkit.items import AoT

    text = current_text(text)
    document = tomlkit.parse(text)
    if fresh := [p for p in changes if _is_new_in_a_step(document, p)]:
        for path in fresh:
            text = _with_key(text, int(path[1]), str(path[2]), _tidy(changes[path]))
        document = tomlkit.parse(text)
    for path, value in changes.items():
        here: Any = document
        for part in path[:-1]:
            if isinstance(part, str) and part not in here:
                here[part] = tomlkit.table()
            here = here[part]
        key, new = path[-1], _tidy(value)
        if isinstance(here, AoT) or not (isinstance(key, str) and key in here):
            here[key] = new
            continue
        old = here[key]
        item = tomlkit.item(new)
        if hasattr(old, "trivia"):  # keep the remark at the end of the line
            item.trivia.comment_ws = old.trivia.comment_ws
            item.trivia.comment = old.trivia.comment
            item.trivia.trail = old.trivia.trail
        here[key] = item
    return tomlkit.dumps(document)


def _is_new_in_a_step(document: TOMLDocument, path: tuple[str | int, ...]) -> bool:
    """Whether ``path`` is a key that its ``[[step]]`` does not have yet; steps written inline take keys as they are."""
    from tomlkit.items import AoT

    if path[0] != "step" or len(path) != 3:
        return False
    steps: Any = document["step"]
    return isinstance(steps, AoT) and path[2] not in steps[int(path[1])]


def _with_key(text: str, index: int, key: str, value: Any) -> str:
    """A new key after the own keys of the step at ``index``, ahead of its sub-tables.

    tomlkit puts a new key at the end of a table's lines, and after ``[step.hold]`` those belong to the sub-table.
    """
    import tomlkit

    lines = text.split("\n")
    head = [i for i, line in enumerate(lines) if _STEP.match(line)][index]
    end = next((i for i in range(head + 1, len(lines)) if _TABLE.match(lines[i])), len(lines))
    while end > head + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    last = lines[end - 1]
    indent = last[: len(last) - len(last.lstrip())]
    lines.insert(end, f"{indent}{key} = {tomlkit.item(value).as_string()}")
    return "\n".join(lines)


def _tidy(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.6g}")
    if isinstance(value, (list, tuple)):
        return [_tidy(v) for v in value]
    return value
