"""Where systems differ: what Windows does otherwise, in one place, so that nothing else has to ask which one this is.

Imports nothing heavy and nothing of the program. The tests of other systems (tests/platform) load this file a second
time, as Windows would, and put what it then says in the place of what it says here.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
from typing import BinaryIO

WINDOWS = sys.platform == "win32"

REPLACES_OPEN_FILES = not WINDOWS
"""Whether a file that somebody has open can be renamed, written over by a rename, or removed."""

_FAR = 1 << 30
"""The byte that stands for the whole file: behind the end of any of ours, since what Windows locks cannot be read."""

if sys.platform == "win32":
    import msvcrt

    def take_lock(handle: int) -> bool:
        """Whether the open file could be locked for this program alone; the lock ends when it is closed."""
        try:
            os.lseek(handle, _FAR, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        os.lseek(handle, 0, os.SEEK_SET)
        return True

    def lower_priority() -> None:
        """Nothing: there a process is given its priority by the one that starts it (app/bench/workers.py)."""

else:
    import fcntl

    def take_lock(handle: int) -> bool:
        """Whether the open file could be locked for this program alone; the lock ends when it is closed."""
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True

    def lower_priority() -> None:
        """Give way to other programs."""
        os.nice(5)


def quoted(text: str) -> str:
    """A word for this system's shell, in quotes: ``cmd`` takes single ones for a part of the word."""
    return f'"{text}"' if WINDOWS else f"'{text}'"


def file_in_memory(room: int) -> BinaryIO:
    """An empty file without a name that never reaches a disk; ``room`` bytes can be written without fail.

    A real one where the system has them: an encoder that is given its number writes without the interpreter's lock, so
    that other threads go on. Such an encoder may not notice when less was written than it wanted, so that no more than
    ``room`` is to be believed.
    """
    if sys.platform == "linux":
        with contextlib.suppress(OSError):  # a sandbox may forbid it, a limit or memory be too small
            number = os.memfd_create("lookwright")
            try:
                os.posix_fallocate(number, 0, room)
            except OSError:
                os.close(number)
                raise
            return os.fdopen(number, "w+b", buffering=0)
    return io.BytesIO()


LARGE = 1 << 20
"""Bytes from which an array goes back to the system as soon as it is freed."""
KEPT = 32 << 20
"""Bytes up to which one stays with the program; the most that mallopt(3) allows."""


def keep_memory() -> bool:
    """Have the memory of arrays that are freed stay with the program; whether this system was told so.

    For a command that does the same to one picture after another: glibc else gives the pages of each back, and the
    system clears them anew for the next, a twentieth of the whole work (mallopt(3), as below).
    """
    trim_threshold, mmap_threshold = -1, -3
    return _told_malloc({mmap_threshold: KEPT, trim_threshold: 8 * KEPT})


def give_memory_back() -> bool:
    """Have the memory of large arrays go back to the system when they are freed; whether this system was told so.

    For a program that runs for hours with many threads. glibc keeps what was freed, thread by thread, and raises the
    size from which it does not with every large array, to 32 MB (mallopt(3)); pictures then lie in it like sand. Its
    constants are from the same page. Elsewhere nothing is done.
    """
    mmap_threshold, arena_max = -3, -8
    return _told_malloc({mmap_threshold: LARGE, arena_max: 2})


def _told_malloc(wishes: dict[int, int]) -> bool:
    if sys.platform != "linux":
        return False
    import ctypes

    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):  # another C library
        return False
    return all([mallopt(number, value) for number, value in wishes.items()])
