"""What a job in the child process tells the page: :class:`lookwright.jobs.progress.Progress` as messages."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from lookwright.jobs.progress import Cancelled

Say = Callable[[dict[str, Any]], None]

OFTEN = 0.2
"""Seconds between two messages: a solver tells more than a reader can follow."""

NAMES = {"delivering": "making the delivery folder"}
"""Parts of the work that the page calls something else than a terminal."""


class Telling:
    """Says what is being done, and how near it came.

    Parameters
    ----------
    say
        Takes one message.
    stopping
        Whether the page wants no more of it.
    """

    def __init__(self, say: Say, stopping: Callable[[], bool]) -> None:
        self._say, self._stopping = say, stopping
        self._last = 0.0

    def start(self, what: str, total: int) -> None:
        """A part of the work begins."""
        self._say({"progress": NAMES.get(what, what)})

    def advance(self, count: int = 1) -> None:
        """Nothing: the page shows what is done, not how much of it."""

    def tell(self, what: str, distance: float = 0.0) -> None:
        """What is being done, and the distance so far."""
        if time.monotonic() - self._last > OFTEN:
            self._last = time.monotonic()
            self._say({"progress": what, "cost": distance})

    def check(self) -> None:
        """Raise :class:`Cancelled` once the page wants no more."""
        if self._stopping():
            raise Cancelled
