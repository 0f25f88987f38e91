"""Every number of a step by its path: where it is declared, what it is, how it is spelled, and how it is put in.

Tuning, advice and sliders walk over a step with this, so that a step knows nothing of them and they need no list of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

from .base import Step
from .params import Declared, ParamInfo

Path = tuple[str | int, ...]
CHANNELS = ("red", "green", "blue")
Group = TypeVar("Group", bound=Declared)


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

    @property
    def words(self) -> str:
        """As messages spell it: ``band.1.turn``, and ``slope.blue`` for a part of a triple."""
        *group, last = self.path
        if isinstance(last, int):
            return ".".join([*(str(p) for p in group), CHANNELS[last]])
        return self.lock_name


def numbers(group: Declared, before: Path = ()) -> Iterator[Number]:
    """Every declared number of a step, nested groups and bands too, in the order of declaration."""
    own = {name: info for name, _, info in type(group).parameters()}
    for name, field in type(group).model_fields.items():
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


def with_value(group: Group, path: Path, value: float) -> Group:
    """A copy of a step or group with one number changed. Not validated: the caller stays inside declared bounds."""
    changed: Group = _with_value(group, path, value)
    return changed


def _with_value(group: Any, path: Path, value: float) -> Any:
    name, rest = path[0], path[1:]
    assert isinstance(name, str)
    if not rest:
        return group.model_copy(update={name: value})
    old = getattr(group, name)
    if isinstance(rest[0], int):
        j = rest[0]
        item = value if len(rest) == 1 else _with_value(old[j], rest[1:], value)
        return group.model_copy(update={name: (*old[:j], item, *old[j + 1 :])})
    return group.model_copy(update={name: _with_value(old, rest, value)})


def locked(step: Step, path: Path) -> bool:
    """Whether the recipe tells tuning to leave the number at ``path`` alone."""
    if isinstance(step.lock, bool):
        return step.lock
    words = ".".join(str(p + 1) if isinstance(p, int) else p for p in path)
    without = ".".join(p for p in path if isinstance(p, str))  # "band.turn" locks the turn of every band
    return any(w == n or w.startswith(n + ".") for n in step.lock for w in (words, without))
