"""A hidden folder for what a job needs on the way, gone when it ends; what a killed run left is cleared by the next."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

from lookwright import system
from lookwright.files import forget_unfinished, note_unfinished, output_error

_ENDING = "scratch"
_LOCK = "in-use"


@contextlib.contextmanager
def scratch(beside: Path) -> Iterator[Path]:
    """A hidden folder in ``beside`` for the time of the block.

    Raises :class:`OutputError` where it cannot be made.
    """
    _clear(beside)
    noted = note_unfinished(beside)
    folder = noted[0] / f"{noted[1]}{_ENDING}"
    lock = -1
    try:
        try:
            folder.mkdir()
            lock = os.open(folder / _LOCK, os.O_CREAT | os.O_RDWR, 0o600)
        except OSError as exc:
            raise output_error(beside, exc) from None
        system.take_lock(lock)
        yield folder
    finally:
        if lock >= 0:
            os.close(lock)
        shutil.rmtree(folder, ignore_errors=True)
        forget_unfinished(noted)


def _clear(beside: Path) -> None:
    """Remove folders of runs that are no more: nobody holds their lock."""
    for left in beside.glob(f".writing-*-{_ENDING}"):
        with contextlib.suppress(OSError):
            lock = os.open(left / _LOCK, os.O_RDWR)  # one without it is being made now
            free = system.take_lock(lock)
            os.close(lock)
            if free:
                shutil.rmtree(left, ignore_errors=True)
