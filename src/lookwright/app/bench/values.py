"""One number of a step as the page asks for it: found by its path, held inside its bounds, and put into the text."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from typing import Any

from lookwright.errors import RecipeError
from lookwright.look.steps.base import Step
from lookwright.look.steps.numbers import Number, Path, numbers


def number_at(step: Step, path: Path) -> Number:
    """The number at ``path``; raises :class:`RecipeError` when the step has none there."""
    for number in numbers(step):
        if number.path == path:
            return number
    words = ".".join(str(p) for p in path)[:60]
    raise RecipeError(f"step {step.kind!r}", f"no parameter {words!r}")


def checked(step: Step, path: Path, value: float) -> Number:
    """The number at ``path``, once ``value`` is inside its declared bounds."""
    number = number_at(step, path)
    if not number.info.low <= value <= number.info.high:  # also NaN
        raise RecipeError(f"step {step.kind!r}, {number.lock_name}", f"{value:g}", number.info.bounds())
    return number


def text_change(step: Step, index: int, path: Path, value: float) -> tuple[Path, Any]:
    """The change of the recipe's text that sets this number; triples are written whole."""
    if isinstance(path[-1], int):
        name = path[-2]
        assert isinstance(name, str)
        old = list(getattr(step, name))
        old[path[-1]] = value
        return ("step", index, *path[:-1]), old
    return ("step", index, *path), value


def unnumbered(text: str) -> str:
    """A sentence on an order that was only tried, without the numbers that steps would have in it: on the page they
    have others. ``step 6 'saturation'`` becomes ``saturation``."""
    return re.sub(r"step \d+ '(\w+)'", r"\1", text)


@contextlib.contextmanager
def order_tried() -> Iterator[None]:
    """Refusals of an order inside name steps by their kind alone."""
    try:
        yield
    except RecipeError as exc:
        raise RecipeError(unnumbered(exc.where), unnumbered(exc.got), exc.expected, exc.hint) from None
