"""Signals as the page takes them, and the threads that make them."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.errors import LutFileError

Codes = NDArray[np.uint16]


def codes(signal: NDArray[np.floating[Any]]) -> Codes:
    """Signal 0..1 (held there) to 16-bit codes, rounded: an error of 8e-6, a thirtieth of an 8-bit code's half.

    Raises :class:`LutFileError` for values that are not finite.
    """
    if not np.isfinite(signal).all():
        raise LutFileError("look", "gives values that are not finite")
    return np.rint(np.clip(signal, 0.0, 1.0) * 65535.0).astype(np.uint16)


def workers() -> ThreadPoolExecutor:
    """Threads for pieces of work: one a core, two at least."""
    return ThreadPoolExecutor(max(2, min(os.cpu_count() or 2, 8)), thread_name_prefix="bench-piece")
