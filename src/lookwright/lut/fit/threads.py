"""Work in parts that do not depend on the number of threads, so that results do not either."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

Run = Callable[[Callable[[Any], Any], Iterable[Any]], list[Any]]
"""Runs a function over parts, on threads or not, results in order."""

PART = 1 << 14
"""Samples, or lattice points, worked on at once."""


def parts_of(count: int, part: int = PART) -> list[slice]:
    """0..count in slices of at most ``part``."""
    return [slice(start, min(start + part, count)) for start in range(0, count, part)]


def in_turn(function: Callable[[Any], Any], parts: Iterable[Any]) -> list[Any]:
    """A :data:`Run` in this thread."""
    return [function(part) for part in parts]


@contextmanager
def on_threads(count: int | None) -> Iterator[Run]:
    """A :data:`Run` on so many threads; all cores when None."""
    count = count or os.cpu_count() or 1
    if count == 1:
        yield in_turn
        return
    with ThreadPoolExecutor(count) as pool:
        yield lambda function, parts: list(pool.map(function, parts))
