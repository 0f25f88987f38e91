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
_own: set[Path] = set()
"""Folders of this process, which are cleared by nobody else in it."""


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
        _own.add(folder)
        try:
            folder.mkdir()
            lock = _locked(folder)
        except OSError as exc:
            raise output_error(beside, exc) from None
        yield folder
    finally:
        if lock >= 0:
            os.close(lock)
        shutil.rmtree(folder, ignore_errors=True)
        _own.discard(folder)
        forget_unfinished(noted)


def _locked(folder: Path) -> int:
    """An open file that is locked while the folder is in use.

    It gets its name only when it is locked, so that no other process finds it free in between; where a file that is
    open cannot be renamed, it has the name at once.
    """
    name = folder / _LOCK
    first = name.with_suffix(".new") if system.REPLACES_OPEN_FILES else name
    lock = os.open(first, os.O_CREAT | os.O_RDWR, 0o600)
    system.take_lock(lock)
    if first != name:
        os.rename(first, name)
    return lock


def _clear(beside: Path) -> None:
    """Remove folders of runs that are no more: nobody holds their lock."""
    for left in beside.glob(f".writing-*-{_ENDING}"):
        if left in _own:
            continue
        with contextlib.suppress(OSError):
            lock = os.open(left / _LOCK, os.O_RDWR)  # one without it is being made now
            free = system.take_lock(lock)
            os.close(lock)
            if free:
                shutil.rmtree(left, ignore_errors=True)
