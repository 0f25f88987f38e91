"""Independent pieces of work, every other one done by a copy of this process.

Threads are no help where arrays are small: each waits for the interpreter. A copy (fork) has everything in memory and
needs to be told nothing. What comes back is the same to the bit, since each piece is worked out by itself, and it does
not matter which process did it. Where there is no second core, no safe fork (Windows, macOS, a process with other
threads, whose locks a copy would never see opened) or the copy does not answer, all is done here.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
import warnings
from collections.abc import Callable, Sequence
from typing import Any, NoReturn, TypeVar

T = TypeVar("T")
Item = TypeVar("Item")


def can_copy() -> bool:
    """Whether a copy of this process would be safe, and have a core of its own."""
    return sys.platform == "linux" and threading.active_count() == 1 and len(os.sched_getaffinity(0)) > 1


def each(work: Callable[[Item], T], items: Sequence[Item]) -> list[T]:
    """``work`` of each item, in order, like ``list(map(work, items))``, on two cores where that is possible.

    ``work`` must have no effect beside its answer, which must pickle; it raises what ``work`` raised.
    """
    mine, theirs = items[::2], items[1::2]
    if len(theirs) == 0 or not can_copy():
        return [work(item) for item in items]
    process, answer = _copied(lambda: [work(item) for item in theirs])
    try:
        own = [work(item) for item in mine]
        other = _told(answer)
    finally:
        os.close(answer)
        _ended(process)
    if other is None:  # stopped by the system for want of memory, say; what ``work`` raised is raised here
        other = [work(item) for item in theirs]
    found: list[Any] = [None] * len(items)
    found[::2], found[1::2] = own, other
    return found


def _copied(work: Callable[[], Any]) -> tuple[int, int]:
    """A copy of this process that does ``work``: its number, and the end of a pipe that its answer comes through."""
    if sys.platform != "linux":
        raise NotImplementedError  # see can_copy
    answer, told = os.pipe()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})  # Ctrl-C is the original's to answer
    try:
        with warnings.catch_warnings():
            # From 3.12 on a fork warns of threads, those of libraries included: they decode pictures, and sleep.
            warnings.simplefilter("ignore", DeprecationWarning)
            process = os.fork()
        if process == 0:
            os.close(answer)
            _answer(work, told)
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
    os.close(told)
    return process, answer


def _answer(work: Callable[[], Any], told: int) -> NoReturn:
    """In the copy: do it, tell it, and be gone, whatever happens; nothing of the original's is tidied up."""
    try:
        with os.fdopen(told, "wb") as pipe:
            pickle.dump(work(), pipe, pickle.HIGHEST_PROTOCOL)
        os._exit(0)
    finally:
        os._exit(1)


def _told(answer: int) -> Any:
    """What a copy answered; None where it did not, or not whole."""
    with os.fdopen(answer, "rb", closefd=False) as pipe:
        try:
            return pickle.load(pipe)
        except (EOFError, pickle.UnpicklingError):
            return None


def _ended(process: int) -> None:
    """See that the copy is gone: it is done, or nobody waits for it any more."""
    if sys.platform != "linux":
        raise NotImplementedError
    os.kill(process, signal.SIGKILL)
    os.waitpid(process, 0)
