"""What a LUT is in memory: a lattice (3D table) or curves (1D table), and how a look is sampled on one."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.errors import LutFileError

Triple = tuple[float, float, float]
Progress = Callable[[int, int], None]

SMALLEST, LARGEST = 2, 129
"""Points per axis. 129 is the most that OpenColorIO 2.6 loads (measured); the Cube LUT Specification 1.0
allows 256, which no common reader but one takes."""

LONGEST = 65536
"""Points of a 1D table (Cube LUT Specification 1.0)."""

FLOAT32_MAX = float(np.finfo(np.float32).max)

CHUNK = 8192
"""Points handed to a look at once: three float64 channels then stay in a core's cache. The chunks do not
depend on the number of threads, so neither do the values."""


def _triple(value: Sequence[float], where: str, name: str) -> Triple:
    numbers = tuple(float(v) for v in value)
    if len(numbers) != 3 or not np.all(np.isfinite(numbers)):
        raise LutFileError(where, f"{name} is {value!r}", "three finite numbers")
    return numbers[0], numbers[1], numbers[2]


def _checked_domain(low: Sequence[float], high: Sequence[float], where: str) -> tuple[Triple, Triple]:
    low, high = _triple(low, where, "domain_min"), _triple(high, where, "domain_max")
    for channel, a, b in zip("RGB", low, high, strict=True):
        if not a < b:
            raise LutFileError(
                where, f"the domain of {channel} runs from {a:g} to {b:g}", "a minimum below the maximum"
            )
    return low, high


def _checked_table(table: ArrayLike, where: str) -> Array:
    """A read-only float64 view of ``table``, refused unless every value is finite in 32-bit float."""
    array = np.ascontiguousarray(table, dtype=np.float64).view()
    # One comparison finds NaN, infinities and values that 32-bit readers would turn into infinity.
    bad = ~(np.abs(array) <= FLOAT32_MAX)
    if bad.any():
        place = tuple(int(i) for i in np.argwhere(bad)[0])
        raise LutFileError(
            where,
            f"the value at point {place[:-1]}, channel {'RGB'[place[-1]]} is {array[place]}",
            "finite numbers (within 32-bit float)",
        )
    array.flags.writeable = False
    return array


@dataclass(frozen=True, eq=False)
class Lattice:
    """A 3D LUT.

    Parameters
    ----------
    table
        (N, N, N, 3) float64, indexed [r, g, b], N from 2 to 129; any finite values (also below 0 and
        above 1). NaN, infinities and values beyond 32-bit float are refused.
    domain_min, domain_max
        Input at the first and the last point of each axis; input outside is clamped by every lookup.
    title, comments
        Text carried in the file header.

    Raises
    ------
    LutFileError
        For a wrong shape, size, domain or value.
    """

    table: Array
    domain_min: Triple = (0.0, 0.0, 0.0)
    domain_max: Triple = (1.0, 1.0, 1.0)
    title: str = ""
    comments: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        where = f"lattice {self.title!r}" if self.title else "lattice"
        shape = np.shape(self.table)
        if len(shape) != 4 or shape[3] != 3 or not shape[0] == shape[1] == shape[2]:
            raise LutFileError(where, f"the table has shape {shape}", "(N, N, N, 3)")
        check_size(shape[0], where)
        low, high = _checked_domain(self.domain_min, self.domain_max, where)
        object.__setattr__(self, "table", _checked_table(self.table, where))
        object.__setattr__(self, "domain_min", low)
        object.__setattr__(self, "domain_max", high)
        object.__setattr__(self, "comments", tuple(self.comments))

    @property
    def size(self) -> int:
        """Points per axis."""
        return int(self.table.shape[0])

    @property
    def unit_domain(self) -> bool:
        """True when the input range is 0 to 1 in every channel."""
        return self.domain_min == (0.0, 0.0, 0.0) and self.domain_max == (1.0, 1.0, 1.0)


@dataclass(frozen=True, eq=False)
class Curves:
    """A 1D LUT: one curve per channel.

    Parameters
    ----------
    table
        (N, 3) float64, N from 2 to 65536, finite.
    domain_min, domain_max, title, comments
        As for :class:`Lattice`.
    """

    table: Array
    domain_min: Triple = (0.0, 0.0, 0.0)
    domain_max: Triple = (1.0, 1.0, 1.0)
    title: str = ""
    comments: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        where = f"curves {self.title!r}" if self.title else "curves"
        shape = np.shape(self.table)
        if len(shape) != 2 or shape[1] != 3 or not 2 <= shape[0] <= LONGEST:
            raise LutFileError(where, f"the table has shape {shape}", f"(N, 3) with N from 2 to {LONGEST}")
        low, high = _checked_domain(self.domain_min, self.domain_max, where)
        object.__setattr__(self, "table", _checked_table(self.table, where))
        object.__setattr__(self, "domain_min", low)
        object.__setattr__(self, "domain_max", high)
        object.__setattr__(self, "comments", tuple(self.comments))

    @property
    def size(self) -> int:
        """Points per curve."""
        return int(self.table.shape[0])

    @property
    def unit_domain(self) -> bool:
        """True when the input range is 0 to 1 in every channel."""
        return self.domain_min == (0.0, 0.0, 0.0) and self.domain_max == (1.0, 1.0, 1.0)


def check_size(n: int, where: str = "lattice") -> None:
    """Refuse a lattice size outside 2 to 129 points per axis."""
    if not SMALLEST <= n <= LARGEST:
        raise LutFileError(
            where, f"{n} points per axis", f"{SMALLEST} to {LARGEST}", "17, 33 and 65 are the usual sizes"
        )


def grid(n: int, domain_min: Sequence[float] = (0.0, 0.0, 0.0), domain_max: Sequence[float] = (1.0, 1.0, 1.0)) -> Array:
    """The input colour at every lattice point.

    Returns
    -------
    (n, n, n, 3) float64 indexed [r, g, b]; the ends are the domain's ends exactly.
    """
    check_size(n)
    low, high = _checked_domain(domain_min, domain_max, "lattice")
    # i / (n - 1) rather than a running sum: correctly rounded, the same on every machine.
    steps = np.arange(n, dtype=np.float64) / (n - 1)
    axes = [a * (1.0 - steps) + b * steps for a, b in zip(low, high, strict=True)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)


def sample(
    look: Callable[[Array], Any],
    n: int,
    chunk: int = CHUNK,
    threads: int | None = None,
    progress: Progress | None = None,
    title: str = "",
    comments: Sequence[str] = (),
) -> Lattice:
    """Evaluate ``look`` at every point of an ``n``-point lattice over 0..1.

    Parameters
    ----------
    look
        Maps (M, 3) float64 input signal to (M, 3) output signal. Called from several threads at once,
        always with the same fixed chunks in whatever number of threads, so the values do not depend on it.
    n
        Points per axis, 2 to 129.
    chunk
        Points per call.
    threads
        Worker threads; all cores when None.
    progress
        Called in the calling thread as ``progress(points_done, points_in_all)``.
    title, comments
        Carried in the lattice.

    Raises
    ------
    LutFileError
        When the look gives a value that is not finite; the line names the input colour.
    """
    points = grid(n).reshape(-1, 3)
    out = np.empty_like(points)
    starts = range(0, len(points), chunk)

    def work(start: int) -> int:
        part = points[start : start + chunk]
        out[start : start + chunk] = look(part)
        return len(part)

    done = 0
    for count in _run(work, starts, threads or os.cpu_count() or 1):
        done += count
        if progress is not None:
            progress(done, len(points))
    bad = ~np.isfinite(out).all(axis=-1)
    if bad.any():
        first = int(np.argmax(bad))
        colour = " ".join(f"{v:.4f}" for v in points[first])
        raise LutFileError(title or "look", f"input {colour} gives {out[first].tolist()}", "finite values everywhere")
    return Lattice(out.reshape(n, n, n, 3), title=title, comments=tuple(comments))


def _run(work: Callable[[int], int], items: Sequence[int], threads: int) -> Iterator[int]:
    """Results in order; a failure or Ctrl-C drops the parts that have not begun."""
    if threads == 1 or len(items) == 1:
        yield from map(work, items)
        return
    pool = ThreadPoolExecutor(threads)
    try:
        yield from pool.map(work, items)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@dataclass(frozen=True, eq=False)
class Tables:
    """A whole LUT: curves, a lattice, or both. With both, ``curves`` come first and feed ``lattice``."""

    lattice: Lattice | None
    curves: Curves | None
