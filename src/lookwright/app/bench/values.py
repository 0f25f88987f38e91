"""One number or word of a step, found by its path: where it is declared, what it is, and how it is put in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from lookwright.errors import RecipeError
from lookwright.look.steps.base import Step
from lookwright.look.steps.params import Declared, ParamInfo

Path = tuple[str | int, ...]
CHANNELS = ("red", "green", "blue")


@dataclass(frozen=True)
class Number:
    """A declared number of a step with its present value."""

    path: Path
    """``("pull",)``, ``("hold", "amount")``, ``("band", 0, "turn")``, ``("slope", 2)`` for the blue of a triple."""
    info: ParamInfo
    value: float
    default: float

    @property
    def lock_name(self) -> str:
        """As the recipe's ``lock`` spells it: parts joined by dots, counted from 1."""
        return ".".join(str(p + 1) if isinstance(p, int) else p for p in self.path)


def numbers(group: Declared, before: Path = ()) -> Iterator[Number]:
    """Every declared number of a step, nested groups and bands too, in the order of declaration."""
    fields = type(group).model_fields
    own = {name: info for name, _, info in type(group).parameters()}
    for name, field in fields.items():
        value = getattr(group, name)
        if name in own:
            if isinstance(value, tuple):
                for c, v in enumerate(value):
                    yield Number((*before, name, c), own[name], float(v), float(field.default[c]))
            else:
                yield Number((*before, name), own[name], float(value), float(field.default))
        elif isinstance(value, Declared):
            yield from numbers(value, (*before, name))
        elif isinstance(value, tuple) and value and isinstance(value[0], Declared):
            for j, item in enumerate(value):
                yield from numbers(item, (*before, name, j))


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


def locked(step: Step, number: Number) -> bool:
    """Whether the recipe tells tuning to leave this number alone."""
    if isinstance(step.lock, bool):
        return step.lock
    without = ".".join(p for p in number.path if isinstance(p, str))  # "band.turn" locks the turn of every band
    return any(w == n or w.startswith(n + ".") for n in step.lock for w in (number.lock_name, without))


def text_change(step: Step, index: int, path: Path, value: float) -> tuple[Path, Any]:
    """The change of the recipe's text that sets this number; triples are written whole."""
    if isinstance(path[-1], int):
        name = path[-2]
        assert isinstance(name, str)
        old = list(getattr(step, name))
        old[path[-1]] = value
        return ("step", index, *path[:-1]), old
    return ("step", index, *path), value
