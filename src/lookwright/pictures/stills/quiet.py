"""Keep what libpng prints by itself away from the user.

libpng writes its warnings and errors straight to file descriptor 2, from C,
even when the error is also reported to us. Our one clear line is enough.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
import threading
from collections.abc import Iterator
from typing import IO

_lock = threading.Lock()
_inside = 0
_kept: int | None = None
_caught: IO[bytes] | None = None


def _redirect() -> None:
    global _kept, _caught
    caught = None
    try:
        caught = tempfile.TemporaryFile(buffering=0)  # noqa: SIM115 - closed in _restore
        _kept = os.dup(2)
        os.dup2(caught.fileno(), 2)
        _caught = caught
    except OSError:
        # Descriptor 2 is closed, or there is no room for a temporary file: a stray line is the lesser harm.
        if _kept is not None:
            os.close(_kept)
            _kept = None
        if caught is not None:
            caught.close()


def _restore() -> None:
    global _kept, _caught
    if _kept is None or _caught is None:
        return
    os.dup2(_kept, 2)
    os.close(_kept)
    _kept = None
    with _caught as caught:
        caught.seek(0)
        text = caught.read()
    _caught = None
    # Other threads may have written to stderr meanwhile: their lines are passed on.
    # libpng writes a message and its line end apart, so two threads may share a line and leave an empty one.
    others = b"".join(x for x in text.splitlines(keepends=True) if x.strip() and not x.startswith(b"libpng "))
    if others:
        with contextlib.suppress(OSError):
            os.write(2, others)


@contextlib.contextmanager
def libpng_quiet() -> Iterator[None]:
    """Hold back file descriptor 2 for the time of the block and drop libpng's own lines.

    The descriptor belongs to the whole process, so the first thread in redirects it and the last one
    out restores it; threads never wait for each other. Lines that others wrote to it meanwhile are
    passed on when the last one leaves, unless one was written in the very moment of a libpng message
    and landed on its line.
    """
    global _inside
    with _lock:
        _inside += 1
        if _inside == 1:
            _redirect()
    try:
        yield
    finally:
        with _lock:
            _inside -= 1
            if _inside == 0:
                _restore()
