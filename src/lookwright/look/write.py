"""Writing a look: new text, or new values into existing text with its comments kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit
from pydantic import BaseModel
from tomlkit.items import AoT

from .model import Look

Change = Mapping[tuple[str | int, ...], Any]
"""Paths such as ``("step", 2, "pull")`` to their new values."""


def look_text(look: Look) -> str:
    """TOML text of a look, with only what differs from the defaults.

    Reading it back gives an equal look.
    """
    document = tomlkit.document()
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

    Numbers are written with at most six significant digits: a look is read by people.
    """
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


def _tidy(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.6g}")
    if isinstance(value, (list, tuple)):
        return [_tidy(v) for v in value]
    return value
