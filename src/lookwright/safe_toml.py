"""TOML from strangers: ordinary files of bounded size, and no key that would cost minutes.

Python's parser needs time and memory that grow with the square of a dotted key's parts: 20,000 of them cost 4 s and
1.5 GB (measured).
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any

# Possessive, so that a long text is walked through once.
_LONG_KEY = re.compile(
    r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){64}""",
)


def read_bytes(path: Path, most: int) -> bytes:
    """Up to ``most`` + 1 bytes of an ordinary file; ``OSError`` or ``ValueError`` as ``open`` for any other."""
    # O_NONBLOCK: opening a pipe must not wait for its other end.
    with open(os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0)), "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(0, "a pipe or device, not a file")
        return file.read(most + 1)


def loads(text: str) -> dict[str, Any]:
    """``tomllib.loads``, which also raises ``ValueError`` (too many digits) and ``RecursionError``."""
    if _LONG_KEY.search(text):
        raise RecursionError
    return tomllib.loads(text)
