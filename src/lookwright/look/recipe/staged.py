"""A look on fixed points, step by step: what stands before a changed step is not computed again.

Those who move one parameter at a time, a tuner or a hand on a slider, change one step of many. Every step has a key,
equal for equal results: its scalar work is done once a key, and points remember what they were behind each step for as
long as the keys up to there stay.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.look.steps.base import Context, Op, Step

from .model import Look
from .pipeline import context_of, does_nothing, folded, prepared, route, straight_into

MOST = 4096
"""Points in one piece of work: small enough that two cores share a 17-point lattice, and newer work waits little."""
ROUTES = 64
"""Orders of steps remembered."""


class Superseded(Exception):
    """Newer work came in while this was being done."""


def never() -> bool:
    """Work that nothing supersedes."""
    return False


@dataclass(frozen=True)
class Part:
    """One step with the conversions before it, or an end of the path. Behind equal parts, equal keys: equal results."""

    key: tuple[Any, ...]
    ops: tuple[Op, ...]


@lru_cache(maxsize=256)
def _ready(step: Step, index: int, context: Context, files: tuple[Any, ...]) -> tuple[Op, ...]:
    return () if does_nothing(step) else (prepared(index, step, context),)


@lru_cache(maxsize=1024)
def _bare(step: Step) -> Step:
    """The step without what does not change the picture."""
    return step.model_copy(update={"note": "", "lock": False})


class Staged:
    """Looks to their parts. The order of domains is worked out once for each order of steps, a step once a value."""

    def __init__(self) -> None:
        self._routes: dict[tuple[Any, ...], list[tuple[tuple[Op, ...], tuple[str, ...], bool]]] = {}

    def parts(self, look: Look, after: Sequence[Op] = (), after_key: str = "") -> list[Part]:
        """The parts of a look in order, with ``after`` (named by ``after_key``) behind the last.

        Raises :class:`~lookwright.errors.RecipeError` for an order that cannot be, as ``compile_look`` does.
        """
        context = context_of(look)
        steps = list(look.indexed_steps())
        shape = (context.source, context.output, straight_into(look), tuple((i, s.kind, s.domains()) for i, s in steps))
        if shape not in self._routes:
            if len(self._routes) >= ROUTES:
                self._routes.clear()
            before = [(tuple(folded(leg.before)), leg.needless) for leg in route(look)]
            self._routes[shape] = [(ops, tuple(op.name for op in ops), needless) for ops, needless in before]
        (start, start_names, _), *conversions, (end, end_names, _) = self._routes[shape]
        found = [Part((start_names, context.source), start)]
        for (index, step), (into, names, needless) in zip(steps, conversions, strict=True):
            if needless:
                continue
            bare, files = _bare(step), step.files(context)
            found.append(Part((names, bare, context, files), (*into, *_ready(bare, index, context, files))))
        return [*found, Part((end_names, context.output, after_key), (*end, *after))]


def through(parts: Sequence[Part], x: Array) -> Array:
    """Code values (..., 3) float64 through all parts."""
    for part in parts:
        for op in part.ops:
            x = op(x)
    return x


def through_pieces(
    parts: Sequence[Part], points: Array, pool: ThreadPoolExecutor, superseded: Callable[[], bool] = never
) -> Array:
    """Any (n, 3) float64 points, piece by piece; raises :class:`Superseded` between pieces."""

    def work(piece: Array) -> Array:
        if superseded():
            raise Superseded
        return through(parts, piece)

    return np.concatenate(list(pool.map(work, np.array_split(points, max(1, -(-len(points) // MOST))))))


class StagedPoints:
    """Fixed points that remember what every part of the last look gave on them.

    Not for several callers at once.

    Parameters
    ----------
    points
        (n, 3) float64 source signal.
    pool
        Threads that share the points, piece by piece; None for points so few that threads would only wait for each
        other.
    """

    def __init__(self, points: Array, pool: ThreadPoolExecutor | None = None) -> None:
        self._pool = pool
        pieces = 1
        if pool is not None:
            pieces = max(2, -(-len(points) // MOST))
            pieces += pieces % 2  # two cores: an even number of equal pieces
        self._points = np.array_split(points, pieces)
        self._known: list[list[tuple[tuple[Any, ...], Array]]] = [[] for _ in self._points]

    def run(self, parts: Sequence[Part], superseded: Callable[[], bool] = never) -> Array:
        """(n, 3) output signal, remembered part by part.

        Raises :class:`Superseded` between pieces when ``superseded()`` turns true; what was done is kept.
        """

        def work(i: int) -> Array:
            if superseded():
                raise Superseded
            x, same = self._from_known(i, parts)
            fresh = self._known[i][:same]
            for part in parts[same:]:
                x = through([part], x)
                fresh.append((part.key, x))
            self._known[i] = fresh
            return x

        return self._each(work)

    def varied(self, parts: Sequence[Part]) -> Array:
        """(n, 3) output signal of a look tried beside the remembered one, which stays."""

        def work(i: int) -> Array:
            x, same = self._from_known(i, parts)
            return through(parts[same:], x)

        return self._each(work)

    def _each(self, work: Callable[[int], Array]) -> Array:
        if self._pool is None:
            return np.concatenate([work(i) for i in range(len(self._points))])
        return np.concatenate(list(self._pool.map(work, range(len(self._points)))))

    def _from_known(self, i: int, parts: Sequence[Part]) -> tuple[Array, int]:
        """What piece ``i`` was behind the last part whose key stays, and how many parts that is."""
        known = self._known[i]
        same = 0
        while same < min(len(known), len(parts)) and known[same][0] == parts[same].key:
            same += 1
        return known[same - 1][1] if same else self._points[i], same
