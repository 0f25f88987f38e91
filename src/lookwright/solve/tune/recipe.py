"""The tuned look as text: the recipe as it was, with new values, remarks kept, and a dated note of what was done."""

from __future__ import annotations

import textwrap
from typing import Any

from lookwright.errors import RecipeError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.read import parse_look
from lookwright.look.recipe.write import with_changes

from .free import Free

WIDTH = 100


def tuned_text(text: str, start: Look, tuned: Look, free: list[Free], note: list[str]) -> str:
    """``text`` with the values of ``tuned``, and ``note`` as remarks at its end.

    Parameters
    ----------
    text
        The recipe's exact text, which reads as ``start``.
    note
        Lines without ``#``; long ones are wrapped.

    Raises
    ------
    RecipeError
        When the text so changed would not read as the tuned look (a fault of this program, never passed over).
    """
    changes: dict[tuple[str | int, ...], Any] = {}
    for f in free:
        path: tuple[str | int, ...] = ("step", f.step, *f.path)
        if isinstance(f.path[-1], int):  # a component: the whole triple is written
            path = path[:-1]
        old, new = _at(start, path), _at(tuned, path)
        if old != new:
            changes[path] = list(new) if isinstance(new, tuple) else new
    changed = with_changes(text, changes)
    changed = changed.rstrip("\n") + "\n\n" + remark(note)
    try:
        again = parse_look(changed)
    except RecipeError as exc:
        raise RecipeError("the tuned recipe", f"does not read again ({exc.line()})") from None
    if not _same(again, tuned):
        raise RecipeError("the tuned recipe", "does not read as what was tuned", hint="please report this recipe")
    return changed


def remark(lines: list[str]) -> str:
    """Lines as TOML remarks, wrapped."""
    out = []
    for i, line in enumerate(lines):
        indent = "" if i == 0 else "  "
        out += textwrap.wrap(line, WIDTH, initial_indent=f"# {indent}", subsequent_indent=f"# {indent}  ") or ["#"]
    return "\n".join(out) + "\n"


def _at(look: Look, path: tuple[str | int, ...]) -> Any:
    here: Any = look.steps[int(path[1])]
    for part in path[2:]:
        here = here[part] if isinstance(part, int) else getattr(here, part)
    return here


def _same(a: Look, b: Look) -> bool:
    """Equal but for the last digits that text does not carry."""
    return _close(a.model_dump(), b.model_dump())


def _close(a: Any, b: Any) -> bool:
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(_close(a[k], b[k]) for k in a)
    if isinstance(a, (list, tuple)):
        return len(a) == len(b) and all(_close(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b) <= 1e-5 * max(abs(a), abs(b)) + 1e-12
    return bool(a == b)
