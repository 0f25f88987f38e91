"""Looks tried while a slider moves: for each its lattice and the levels at the marks; the verdict as often as it can
be had."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future

from lookwright.errors import LookwrightError
from lookwright.pictures.stills import Mark

from .bake_queue import Baked, BakeQueue
from .mark_table import MarkTable
from .moving import Probes, packed, seen_by
from .pictures import Pictures, Region
from .session import Change, Session

VERDICT_EVERY = 0.8
"""Seconds between two verdicts under the hand, at least; each takes 0.2 of processor time at low priority."""


class Trials:
    """Tries looks of one recipe, and keeps none of them.

    Parameters
    ----------
    session, bakes, pictures, marks
        Of the bench.
    check
        Takes the text of a look under the hand, the still looked at and :attr:`hand`, and has it measured beside.
    """

    def __init__(
        self,
        session: Session,
        bakes: BakeQueue,
        pictures: Pictures,
        marks: MarkTable,
        check: Callable[[str, int | None, int], None],
    ) -> None:
        self._session, self._bakes, self._pictures, self._marks, self._check = session, bakes, pictures, marks, check
        self._lock = threading.Lock()
        self._probes: tuple[int | None, tuple[Mark, ...], Probes, int] | None = None
        self._count = 0
        self._newest: tuple[Sequence[Change], int | None] = ((), None)
        self._timer: threading.Timer | None = None
        self.hand = 0
        """Counts how often a hand let go: what an earlier one tried is of no more interest."""

    def ask(
        self,
        client: str,
        changes: Sequence[Change],
        size: int | None,
        views: Sequence[tuple[int, Region]],
        still: int | None,
    ) -> Future[bytes]:
        """The future of the answer to the page; raises as :meth:`BakeQueue.bake` does."""
        look = self._session.trial(changes)
        probes, key = self._of(still)
        seen = seen_by(self._pictures, views, probes, key) if views else None
        baking = self._bakes.bake(client, look, size, "now", seen)
        self._verdict_soon(changes, still)
        answer: Future[bytes] = Future()

        def passed(finished: Future[Baked]) -> None:
            # In the thread that baked: another that had to be woken for it would cost more than the work.
            if not answer.set_running_or_notify_cancel():
                return  # the page went
            try:
                baked = finished.result()
                graded = baked.colours
                levels = probes.levels(graded, look) if seen is not None and graded is not None else []
                answer.set_result(packed(baked, {"levels": levels}))
            except BaseException as exc:  # handed to whoever waits
                answer.set_exception(exc)

        baking.add_done_callback(passed)
        return answer

    def _of(self, still: int | None) -> tuple[Probes, int]:
        """The pixels of a still's marks, and a number that tells them from others."""
        marks = tuple(self._marks.of(still)) if still is not None else ()
        with self._lock:
            if self._probes is None or self._probes[:2] != (still, marks):
                self._count += 1
                self._probes = (still, marks, Probes.of(self._marks, still), self._count)
            return self._probes[2], self._probes[3]

    def _verdict_soon(self, changes: Sequence[Change], still: int | None) -> None:
        """A verdict on the newest look under the hand, when the time of the last one has passed."""
        with self._lock:
            self._newest = changes, still
            if self._timer is None:
                self._timer = threading.Timer(VERDICT_EVERY, self._verdict)
                self._timer.daemon = True
                self._timer.start()

    def _verdict(self) -> None:
        with self._lock:
            (changes, still), self._timer, hand = self._newest, None, self.hand
        with contextlib.suppress(LookwrightError):  # its step was taken out meanwhile
            self._check(self._session.trial_text(changes), still, hand)

    def drop(self) -> None:
        """The hand let go: what it tried is of no more interest."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            self._timer = None
            self.hand += 1
