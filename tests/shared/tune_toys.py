"""Small problems with a formula for everything, in the places of a look, its goals and its restraint."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from lookwright.solve.tune.barrier import FROM, FULL
from lookwright.solve.tune.goals import Goal
from lookwright.solve.tune.problem import Problem

Formula = Callable[[np.ndarray], Any]


@dataclass
class ToyFree:
    """A parameter whose value is z."""

    name: str
    low: float
    high: float
    start: float = 0.0
    info: Any = None

    def bounds_z(self) -> tuple[float, float]:
        return self.low, self.high

    def value(self, z: float) -> float:
        return min(max(z, self.low), self.high)

    def z(self, value: float) -> float:
        return value


@dataclass
class ToySeen:
    z: np.ndarray

    def __getitem__(self, part: slice) -> ToySeen:
        return self


class ToyModel:
    """A model whose picture is z itself."""

    def __init__(self, bounds: Sequence[tuple[float, float]]) -> None:
        self.free = [ToyFree(f"p{i}", *b) for i, b in enumerate(bounds)]
        self.z = np.zeros(len(bounds))
        self.variations = 0

    def move(self, z: np.ndarray) -> ToySeen:
        self.z = np.array(z, float)
        return self.seen()

    def seen(self) -> ToySeen:
        return ToySeen(self.z)

    def _with(self, i: int, z_i: float) -> np.ndarray:
        z = self.z.copy()
        z[i] = z_i
        return z

    def varied(self, i: int, z_i: float) -> ToySeen:
        self.variations += 1
        return ToySeen(self._with(i, z_i))

    def function(self, i: int | None = None, z_i: float = 0.0) -> np.ndarray:
        return self.z if i is None else self._with(i, z_i)

    def together(self, arrays: Iterable[np.ndarray]) -> ToyTogether:
        return ToyTogether(self.z)

    parts = _with


@dataclass
class ToyTogether:
    z: np.ndarray

    def here(self, work: Callable[[np.ndarray], Any]) -> tuple[Any, list[np.ndarray]]:
        return work(self.z), []

    def varied(self, parts: np.ndarray) -> np.ndarray:
        return parts


class ToyGoal(Goal):
    part = slice(0, 1)
    weight = 1.0
    floor = 0.3
    pieces = 10.0
    words = "a toy"

    def __init__(self, formula: Formula, name: str = "toy") -> None:
        self.formula, self.name = formula, name

    def residuals(self, seen: Any) -> np.ndarray:
        return np.atleast_1d(np.asarray(self.formula(seen.z), float))


@dataclass
class ToyBarrier:
    """Measures by name, each a formula of harm; those in ``joined`` are watched at every step."""

    measures: dict[str, Formula]
    weight: float = 1.0
    joined: list[str] = field(default_factory=list)

    @property
    def watched(self) -> list[str]:
        return self.joined

    def of(self, z: np.ndarray, measurement: str) -> np.ndarray:
        return np.atleast_1d(self.measures[measurement](z))

    def all_harm(self, z: np.ndarray) -> dict[str, float]:
        return {name: float(np.max(harm(z))) for name, harm in self.measures.items()}

    def measurements_of(self, names: Sequence[str], z: np.ndarray) -> list[str]:
        return list(names)

    def join(self, names: Sequence[str]) -> bool:
        new = [n for n in names if n not in self.joined]
        self.joined += new
        return bool(new)

    def join_failing(self, z: np.ndarray) -> bool:
        return self.join([n for n, harm in self.all_harm(z).items() if harm > 1.0])


def toy(
    residuals: Formula,
    bounds: Sequence[tuple[float, float]],
    limits: dict[str, Formula] | None = None,
    joined: bool = True,
    **options: Any,
) -> Problem:
    """A problem of so many parameters, from formulas of z."""
    barrier = None
    if limits is not None:
        barrier = ToyBarrier(limits, options.pop("weight", 1.0), list(limits) if joined else [])
    return Problem(ToyModel(bounds), [ToyGoal(residuals)], barrier, **options)  # type: ignore[arg-type]


def beyond(harm: float) -> float:
    """What a harm costs at weight 1."""
    return max(0.0, (harm - FROM) / FULL) ** 2


def counting(formula: Formula) -> tuple[Formula, Iterator[int]]:
    """The formula, and how often it was worked out so far at each ``next``."""
    calls = [0]

    def counted(z: np.ndarray) -> Any:
        calls[0] += 1
        return formula(z)

    def so_far() -> Iterator[int]:
        while True:
            yield calls[0]

    return counted, so_far()
