"""Whether a line may be written over: only where a person watches a terminal that can do it."""

from __future__ import annotations

import os
from typing import TextIO


def may_rewrite(stream: TextIO) -> bool:
    """Whether ``stream`` is a terminal that moves its cursor: not a pipe, a file, or what ``TERM=dumb`` announces.

    Nothing that the program prints is coloured, so ``NO_COLOR`` is obeyed without being asked for.
    """
    return stream.isatty() and os.environ.get("TERM") != "dumb"
