"""Stills that a job needs several times, decoded once: ahead of time, side by side, within a share of memory."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from lookwright.memory import available

from .picture import CodedStill, Still

MOST_BYTES = 2_000_000_000
"""Of pixels that are kept: some twenty stills of 4K."""
_SHARE = 0.25
"""Of what is free: the job itself needs memory too."""
_BYTES_A_PIXEL = 16
"""Of a still: three or four channels of 32 bits."""

Key = tuple[str, int, int]
Either = Still | CodedStill


class Kept:
    """Stills being decoded, or decoded; what there is no room for is left to be read when it is asked for."""

    def __init__(self, read: Callable[[Path], Either]) -> None:
        free = available()
        self._room = MOST_BYTES if free is None else min(MOST_BYTES, int(_SHARE * free))
        self._read = read
        self._pool = ThreadPoolExecutor(os.cpu_count() or 1)
        self._stills: dict[Key, Future[Either]] = {}

    def begin(self, path: Path, pixels: int) -> None:
        """Decode a still of so many pixels in the background, if there is room for it."""
        key = _key(path)
        need = pixels * _BYTES_A_PIXEL
        if key is None or key in self._stills or not 0 < need <= self._room:
            return
        self._room -= need
        self._stills[key] = self._pool.submit(self._read, path)

    def still(self, path: Path) -> Either | None:
        """The still, its pixels or codes not to be written to; None where it was not begun, or its file has changed.

        Raises what reading it raised.
        """
        key = _key(path)
        future = None if key is None else self._stills.get(key)
        if future is None:
            return None
        found = future.result()
        (found.codes if isinstance(found, CodedStill) else found.pixels).setflags(write=False)
        return replace(found, path=path)

    def all_begun(self) -> None:
        """No more stills will be begun: threads end as soon as they have none left to decode."""
        self._pool.shutdown(wait=False)

    def end(self) -> None:
        """Decode no more, and let go of all."""
        self._pool.shutdown(cancel_futures=True)
        self._stills.clear()


_held: list[Kept] = []


def held() -> Kept | None:
    """What is kept now, if anything is."""
    return _held[-1] if _held else None


@contextlib.contextmanager
def kept(stills: Iterable[tuple[Path, int]], read: Callable[[Path], Either]) -> Iterator[None]:
    """For the time of the block each of these stills, given with its number of pixels, is decoded once.

    Within another such block this one does nothing.
    """
    if _held:
        yield
        return
    mine = Kept(read)
    _held.append(mine)
    try:
        for path, pixels in stills:
            mine.begin(path, pixels)
        mine.all_begun()
        yield
    finally:
        _held.remove(mine)
        mine.end()


def _key(path: Path) -> Key | None:
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return None
    return os.path.realpath(path), found.st_mtime_ns, found.st_size
