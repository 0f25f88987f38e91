"""How a job tells what it is doing and hears that it is to stop: one protocol for a terminal, a page or a program."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Protocol, TypeVar

T = TypeVar("T")


class Cancelled(Exception):
    """The work is not wanted any more. Not a fault: nothing half-written is left, and nothing is to be mended."""


class Progress(Protocol):
    """Whoever asked for a job. Called in the thread that runs it, except :meth:`check`, which any of its threads may.

    Any class with these four methods will do; a job that is given none runs in silence (:data:`SILENT`).
    """

    def start(self, what: str, total: int) -> None:
        """A part of the work begins, in ``total`` pieces; an earlier part has ended."""

    def advance(self, count: int = 1) -> None:
        """``count`` more of its pieces are done."""

    def tell(self, what: str, distance: float = 0.0) -> None:
        """What is being done, where pieces cannot be counted or within one; ``distance`` from the goal so far, 0 where
        it has none."""

    def check(self) -> None:
        """Raise :class:`Cancelled` when the work is to stop; asked between pieces."""


class Silent:
    """Tells nobody, and never stops."""

    def start(self, what: str, total: int) -> None:
        """Nothing."""

    def advance(self, count: int = 1) -> None:
        """Nothing."""

    def tell(self, what: str, distance: float = 0.0) -> None:
        """Nothing."""

    def check(self) -> None:
        """Nothing."""


SILENT: Progress = Silent()


class Within(Silent):
    """For a job within a piece of another: it hears of cancelling, and its own pieces are told to nobody."""

    def __init__(self, whole: Progress) -> None:
        self._whole = whole

    def check(self) -> None:
        """As the whole is asked."""
        self._whole.check()


def part(progress: Progress, what: str, total: int) -> Callable[[int], None]:
    """Begin a part of ``total`` pieces; the function given back takes pieces done, and stops where that is asked."""
    progress.check()
    progress.start(what, total)

    def advance(count: int = 1) -> None:
        progress.advance(count)
        progress.check()

    return advance


def hundredths(progress: Progress, what: str) -> Callable[[int, int], None]:
    """The same for work that tells ``(done, total)`` of many small pieces: told on in hundredths."""
    advance = part(progress, what, 100)
    told = 0

    def step(done: int, total: int) -> None:
        nonlocal told
        now = 100 * done // total
        advance(now - told)
        told = now

    return step


@contextmanager
def ended(items: Iterator[T]) -> Iterator[Iterator[T]]:
    """``items`` for the time of the block, and their threads at an end when it is left, however it is left."""
    try:
        yield items
    finally:
        if close := getattr(items, "close", None):
            close()
