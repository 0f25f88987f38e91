"""One worker that bakes lattices in the background: for each window of the page only its newest wish counts."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

from ..look.model import Look
from .shown import screen_for, shown_look
from .staged import Codes, Part, Parts, StagedGrid, Superseded

REST = 33
DRAG_SIZES = (33, 25, 21, 17)
"""Sizes tried while a slider moves, the finest first that fits the time; at rest it is always :data:`REST`."""
BUDGET = 0.030
"""Seconds a bake may take while a slider moves: with 10 ms for the way there and back and 16 for a drawn frame, a
picture follows the hand within the 60 ms that feel immediate (common practice, no source)."""


@dataclass(frozen=True)
class Baked:
    """A lattice for the page."""

    codes: Codes
    seconds: float
    """Time the bake itself took."""


@dataclass
class _Wish:
    look: Look
    size: int | None
    side: str
    done: Future[Baked] = field(default_factory=Future)


class BakeQueue:
    """Coalesces wishes by client: a newer one replaces the waiting one and stops the one at work."""

    def __init__(self, pool: ThreadPoolExecutor) -> None:
        self._pool = pool
        self._parts = Parts()
        self._grids: dict[tuple[str, int], StagedGrid] = {}
        self._pace: dict[tuple[str, int], float] = {}
        self._last: dict[str, tuple[object, ...]] = {}
        self._ready = threading.Condition()
        self._waiting: OrderedDict[tuple[str, str], _Wish] = OrderedDict()
        self._current: tuple[tuple[str, str], _Wish] | None = None
        self._newer = False
        self._closed = False
        self._thread = threading.Thread(target=self._work, name="bench-bake", daemon=True)
        self._thread.start()

    def bake(self, client: str, look: Look, size: int | None = REST, side: str = "after") -> Future[Baked]:
        """Ask for a lattice; ``size`` None takes the finest that keeps up with a moving slider.

        The future gives :class:`Baked`, or raises :class:`~lookwright.errors.LookwrightError`, or :class:`Superseded`
        when the same client asked again for the same side.
        """
        wish, key = _Wish(look, size, side), (client, side)
        with self._ready:
            if self._closed:
                wish.done.set_exception(Superseded())
                return wish.done
            older = self._waiting.pop(key, None)
            self._waiting[key] = wish
            if self._current is not None and self._current[0] == key:
                self._newer = True
            self._ready.notify()
        if older is not None:
            older.done.set_exception(Superseded())
        return wish.done

    def close(self) -> None:
        """Stop the worker; wishes still waiting are superseded."""
        with self._ready:
            self._closed, self._newer = True, True
            waiting = list(self._waiting.values())
            self._waiting.clear()
            self._ready.notify()
        for wish in waiting:
            wish.done.set_exception(Superseded())
        self._thread.join(timeout=5.0)

    def _work(self) -> None:
        while True:
            with self._ready:
                while not self._waiting and not self._closed:
                    self._ready.wait()
                if self._closed:
                    return
                key, wish = self._waiting.popitem(last=False)
                self._current, self._newer = (key, wish), False
            try:
                wish.done.set_result(self._one(wish))
            except BaseException as exc:  # handed to whoever waits; the worker goes on
                wish.done.set_exception(exc)
            with self._ready:
                self._current = None

    def _one(self, wish: _Wish) -> Baked:
        shown, _ = shown_look(wish.look)
        screen = screen_for(shown.output.signal())
        start = time.perf_counter()
        parts = self._parts.of(shown, screen.after, screen.note)
        prepared = time.perf_counter() - start
        size = wish.size or self._size_for(wish.side, parts, prepared)
        key = (wish.side, size)
        if key not in self._grids:
            self._grids[key] = StagedGrid(size, self._pool)
        began = time.perf_counter()
        table = self._grids[key].bake(parts, lambda: self._newer)
        finished = time.perf_counter()
        self._remember(wish.side, parts, (finished - began) / size**3)
        return Baked(table, finished - start)

    def _changed(self, side: str, parts: list[Part]) -> int:
        """Place of the first part that differs from the last look of this side."""
        last = self._last.get(side, ())
        same = 0
        while same < min(len(last), len(parts)) and last[same] == parts[same].key:
            same += 1
        return same

    def _size_for(self, side: str, parts: list[Part], prepared: float) -> int:
        pace = self._pace.get((side, self._changed(side, parts)))
        if pace is None:
            return DRAG_SIZES[-1]
        room = BUDGET - prepared
        return next((n for n in DRAG_SIZES if pace * n**3 <= room), DRAG_SIZES[-1])

    def _remember(self, side: str, parts: list[Part], pace: float) -> None:
        place = self._changed(side, parts)
        self._last[side] = tuple(p.key for p in parts)
        old = self._pace.get((side, place))
        # The quicker of the new time and a slow drift upward: one hiccup does not coarsen the picture.
        self._pace[side, place] = pace if old is None else min(pace, old * 1.15)
