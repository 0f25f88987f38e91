"""One worker that bakes lattices in the background: for each window of the page only its newest wish counts.

While a slider moves, only the points of the lattice that the picture on the table reads are baked: a still touches a
small part of all colours there could be (a tenth or so of 33 x 33 x 33 points), and the rest would be work for colours
that nobody sees. At rest every point is baked.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.staged import Part, Staged, StagedPoints, Superseded
from lookwright.lut.lattices.lattice import grid

from .codes import Codes, codes
from .shown import on_screen

REST = 33
DRAG_SIZES = (33, 25, 21, 17)
"""Sizes tried while a slider moves, the finest first that fits the time; at rest it is always :data:`REST`."""
BUDGET = 0.030
"""Seconds a bake may take while a slider moves: with 10 ms for the way there and back and 16 for a drawn frame, a
picture follows the hand within the 60 ms that feel immediate (common practice, no source)."""
GUESS = 4e-6
"""Seconds a point, before the first one was timed: a full look with print on one slow core."""
ALONE = 12_000
"""Points up to which one thread bakes them: numpy's work on a piece of them is so short that two threads spend as much
on handing the interpreter to each other as they gain."""
VIEWS = 4
"""Views whose points are remembered between bakes."""

Places = NDArray[np.intp]


@dataclass(frozen=True)
class Seen:
    """What a view reads of a lattice: for a size, the places of those points in blue-fastest order."""

    key: Hashable
    places: Callable[[int], Places]
    colours: Array | None = None
    """(n, 3) source colours that go the exact way beside them: those of marks, whose levels are told."""


@dataclass(frozen=True)
class Baked:
    """A lattice for the page."""

    size: int
    codes: Codes
    """(n, 3) uint16, blue fastest: all points, or those at ``places``."""
    places: Places | None
    seconds: float
    """Time the bake itself took."""
    colours: Array | None = None
    """(n, 3) what became of the colours asked for."""


@dataclass
class _Wish:
    look: Look
    size: int | None
    side: str
    seen: Seen | None
    done: Future[Baked] = field(default_factory=Future)


class BakeQueue:
    """Coalesces wishes by client: a newer one replaces the waiting one and stops the one at work."""

    def __init__(self, pool: ThreadPoolExecutor) -> None:
        self._pool = pool
        self._staged = Staged()
        self._grids: OrderedDict[tuple[str, int, Hashable], tuple[Places | None, StagedPoints]] = OrderedDict()
        self._pace: dict[tuple[str, bool, int], float] = {}
        self._last: dict[str, tuple[object, ...]] = {}
        self._ready = threading.Condition()
        self._waiting: OrderedDict[tuple[str, str], _Wish] = OrderedDict()
        self._current: tuple[tuple[str, str], _Wish] | None = None
        self._newer = False
        self._closed = False
        self._thread = threading.Thread(target=self._work, name="bench-bake", daemon=True)
        self._thread.start()

    def bake(
        self, client: str, look: Look, size: int | None = REST, side: str = "now", seen: Seen | None = None
    ) -> Future[Baked]:
        """Ask for a lattice; ``size`` None takes the finest that keeps up with a moving slider.

        With ``seen`` only the points that a view reads are baked.

        The future gives :class:`Baked`, or raises :class:`~lookwright.errors.LookwrightError`, or :class:`Superseded`
        when the same client asked again for the same side.
        """
        wish, key = _Wish(look, size, side, seen), (client, side)
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
            _supersede(older)
        return wish.done

    def close(self) -> None:
        """Stop the worker; wishes still waiting are superseded."""
        with self._ready:
            self._closed, self._newer = True, True
            waiting = list(self._waiting.values())
            self._waiting.clear()
            self._ready.notify()
        for wish in waiting:
            _supersede(wish)
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
            if wish.done.set_running_or_notify_cancel():  # from here on it cannot be cancelled
                try:
                    wish.done.set_result(self._one(wish))
                except BaseException as exc:  # handed to whoever waits; the worker goes on
                    wish.done.set_exception(exc)
            with self._ready:
                self._current = None

    def _one(self, wish: _Wish) -> Baked:
        shown, screen = on_screen(wish.look)
        start = time.perf_counter()
        parts = self._staged.parts(shown, screen.after, screen.note)
        prepared = time.perf_counter() - start
        size = wish.size or self._size_for(wish, parts, prepared)
        places, points = self._grid(wish, size)
        began = time.perf_counter()
        out = points.run(parts, lambda: self._newer)
        count = size**3 if places is None else len(places)
        found, colours = codes(out[:count]), out[count:]
        finished = time.perf_counter()
        self._remember(wish, parts, (finished - began) / max(1, len(out)))
        return Baked(size, found, places, finished - start, colours)

    def _grid(self, wish: _Wish, size: int) -> tuple[Places | None, StagedPoints]:
        """The points to bake, with what was last worked out on them."""
        key = (wish.side, size, wish.seen.key if wish.seen else None)
        if key not in self._grids:
            everywhere = grid(size).reshape(-1, 3)
            places = wish.seen.places(size) if wish.seen else None
            asked = everywhere if places is None else everywhere[places]
            if wish.seen is not None and wish.seen.colours is not None:
                asked = np.concatenate([asked, wish.seen.colours])
            self._grids[key] = places, StagedPoints(asked, self._pool if len(asked) > ALONE else None)
            views = [k for k in self._grids if k[2] is not None]
            for old in views[:-VIEWS]:
                del self._grids[old]
        self._grids.move_to_end(key)
        return self._grids[key]

    def _changed(self, side: str, parts: list[Part]) -> int:
        """Place of the first part that differs from the last look of this side."""
        last = self._last.get(side, ())
        same = 0
        while same < min(len(last), len(parts)) and last[same] == parts[same].key:
            same += 1
        return same

    def _size_for(self, wish: _Wish, parts: list[Part], prepared: float) -> int:
        place = self._changed(wish.side, parts)
        pace = self._pace.get((wish.side, wish.seen is not None, place), GUESS)
        room = max(BUDGET - prepared, BUDGET / 3)  # a smaller lattice does not win back what preparing a step took

        def points(size: int) -> int:
            return size**3 if wish.seen is None else len(wish.seen.places(size))

        return next((n for n in DRAG_SIZES if pace * points(n) <= room), DRAG_SIZES[-1])

    def _remember(self, wish: _Wish, parts: list[Part], pace: float) -> None:
        key = (wish.side, wish.seen is not None, self._changed(wish.side, parts))
        self._last[wish.side] = tuple(p.key for p in parts)
        old = self._pace.get(key)
        # The quicker of the new time and a slow drift upward: one hiccup does not coarsen the picture.
        self._pace[key] = pace if old is None else min(pace, old * 1.15)


def _supersede(wish: _Wish) -> None:
    if wish.done.set_running_or_notify_cancel():
        wish.done.set_exception(Superseded())
