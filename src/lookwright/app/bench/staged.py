"""A look on fixed points, in parts: what stands before a changed step is not computed again.

Dragging one slider changes one step. Its scalar work (hue maps, film curves) is the costly half of compiling, and the
steps before it give what they gave a moment ago. Both are remembered here, so that a bake can keep up with a hand.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.errors import LutFileError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import folded, stages
from lookwright.look.steps.base import Context, Op, Step

Codes = NDArray[np.uint16]

MOST = 4096
"""Points in one piece of work: small enough that two cores share a 17-point lattice, and newer work waits little."""


class Superseded(Exception):
    """Newer work came in while this was being done."""


def never() -> bool:
    """Work that nothing supersedes."""
    return False


@dataclass(frozen=True)
class Part:
    """One step with the conversions before it, or an end of the path; equal keys mean equal results."""

    key: tuple[Any, ...]
    ops: tuple[Op, ...]


@lru_cache(maxsize=256)
def _prepared(step: Step, context: Context) -> Op:
    return step.prepare(context)


class Parts:
    """Looks to their parts. The order of domains is worked out once for each order of steps, a step once a value."""

    def __init__(self) -> None:
        self._shapes: dict[tuple[Any, ...], list[tuple[int | None, tuple[Op, ...]]]] = {}

    def of(self, look: Look, after: Sequence[Op] = (), after_key: str = "") -> list[Part]:
        """The parts of a look in order, with ``after`` (named by ``after_key``) behind the last.

        Raises :class:`~lookwright.errors.RecipeError` for an order that cannot be, as ``compile_look`` does.
        """
        source, output = look.source.signal(), look.output.signal()
        context = Context(source, output, look.folder)
        effective = [s if look.strength == 1.0 else s.scaled(look.strength) for s in look.steps]
        shape = (source, output, tuple((s.kind, s.on, s.domains()) for s in effective))
        if shape not in self._shapes:
            if len(self._shapes) > 64:
                self._shapes.clear()
            self._shapes[shape] = [(p.step, tuple(folded(p.before))) for p in stages(look)]
        found = []
        for place, (index, before) in enumerate(self._shapes[shape]):
            names = tuple(op.name for op in before)
            if index is None:
                last = place > 0
                key = (names, source if not last else (output, after_key))
                found.append(Part(key, (*before, *after) if last else before))
                continue
            step = effective[index]
            takes, gives = step.domains()
            idle = step.is_neutral() and not step.rendering and takes == gives
            plain = step.model_copy(update={"note": "", "lock": False})  # neither changes the picture
            own = () if idle else (_prepared(plain, context),)
            found.append(Part((names, plain, context.output), (*before, *own)))
        return found


class StagedPoints:
    """Fixed points that remember, piece by piece, what every part of the last look gave on them.

    Not for several callers at once: the bake queue has one worker.

    Parameters
    ----------
    points
        (n, 3) float64 source signal.
    pool
        Threads that share the pieces.
    """

    def __init__(self, points: Array, pool: ThreadPoolExecutor) -> None:
        self._pool = pool
        pieces = max(2, -(-len(points) // MOST))
        pieces += pieces % 2  # two cores: an even number of equal pieces
        self._points = np.array_split(points, pieces)
        self._known: list[list[tuple[tuple[Any, ...], Array]]] = [[] for _ in self._points]

    def bake(self, parts: Sequence[Part], superseded: Callable[[], bool] = never) -> Codes:
        """(n, 3) uint16 of the output signal held in 0..1.

        Raises :class:`Superseded` between pieces when ``superseded()`` turns true; what was done is kept.
        """

        def work(i: int) -> Array:
            if superseded():
                raise Superseded
            return self._piece(i, parts)

        return codes(np.concatenate(list(self._pool.map(work, range(len(self._points))))))

    def _piece(self, i: int, parts: Sequence[Part]) -> Array:
        known = self._known[i]
        same = 0
        while same < min(len(known), len(parts)) and known[same][0] == parts[same].key:
            same += 1
        x = known[same - 1][1] if same else self._points[i]
        fresh = known[:same]
        for part in parts[same:]:
            for op in part.ops:
                x = op(x)
            fresh.append((part.key, x))
        self._known[i] = fresh
        return x


def codes(signal: NDArray[np.floating[Any]]) -> Codes:
    """Signal 0..1 (held there) to 16-bit codes, rounded: an error of 8e-6, a thirtieth of an 8-bit code's half.

    Raises :class:`LutFileError` for values that are not finite.
    """
    if not np.isfinite(signal).all():
        raise LutFileError("look", "gives values that are not finite")
    return np.rint(np.clip(signal, 0.0, 1.0) * 65535.0).astype(np.uint16)


def through(parts: Sequence[Part], pixels: Array, pool: ThreadPoolExecutor, superseded: Callable[[], bool]) -> Array:
    """The exact path on any (n, 3) float64 pixels, piece by piece; raises :class:`Superseded` between pieces."""

    def work(piece: Array) -> Array:
        if superseded():
            raise Superseded
        for part in parts:
            for op in part.ops:
                piece = op(piece)
        return piece

    pieces = np.array_split(pixels, max(1, -(-len(pixels) // MOST)))
    return np.concatenate(list(pool.map(work, pieces)))


def workers() -> ThreadPoolExecutor:
    """Threads for pieces of work: one a core, two at least."""
    return ThreadPoolExecutor(max(2, min(os.cpu_count() or 2, 8)), thread_name_prefix="bench-piece")
