"""Colours to measure and to fit a lattice at: even spreads, every cell of a lattice, and pixels of stills.

Nothing here draws random numbers: numpy may change its generators between releases, and the same command
must give the same file. The spreads are Halton sequences (Halton 1960, "On the efficiency of certain
quasi-random sequences of points in evaluating multi-dimensional integrals", Numerische Mathematik 2).
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.errors import PictureError
from lookwright.pictures.stills import read_either

_BASES = (2, 3, 5)
_CELL_BASES = (3, 5, 7)
"""Within the cells of a lattice, whose number along an axis is often a power of two: with base 2 the place in
a cell would follow the place of the cell."""

_SEED_STEP = 1 << 20
"""Elements of the sequence between one seed and the next."""

_LONGEST_RUN = 4096
"""Numbers whose low digits are taken apart at once."""

LARGEST_SEED = 1_000_000
"""Beyond this the fractions would no longer be exact in float64."""


def spread(count: int, dimensions: int, seed: int) -> Array:
    """An even spread over the unit square or cube.

    Parameters
    ----------
    count
        Points; the first of a longer spread are those of a shorter one.
    dimensions
        2 or 3.
    seed
        0 to 1 000 000: where in the sequence to begin.

    Returns
    -------
    (count, dimensions) float64 in 0..1, 1 excluded. Whole numbers and one division: the same on every machine.
    """
    return _halton(count, _BASES[:dimensions], seed)


def along(count: int, seed: int) -> Array:
    """(count,) places in 0..1 that keep no step with :func:`spread`, whose bases are others: to choose from it."""
    return _halton(count, (7,), seed)[:, 0]


def _halton(count: int, bases: tuple[int, ...], seed: int) -> Array:
    if not 0 <= seed <= LARGEST_SEED:
        raise ValueError(f"seed {seed}, expected 0 to {LARGEST_SEED}")
    first = seed * _SEED_STEP + 1
    out = np.empty((count, len(bases)))
    for column, base in zip(out.T, bases, strict=True):
        column[:] = _mirrored(first, count, base)
    return out


def _mirrored(first: int, count: int, base: int) -> Array:
    """The digits of ``first`` and the numbers after it in ``base``, mirrored behind the point.

    The low digits run through the same numbers again and again, so only those of one run, and the high digits of each,
    are taken apart. All in whole numbers but the last division.
    """
    run = base
    while run * base <= min(count, _LONGEST_RUN):
        run *= base
    begin, skipped = divmod(first, run)
    low, low_scale = _digits_turned(np.arange(run, dtype=np.int64), base)
    high, high_scale = _digits_turned(np.arange(begin, begin + -(-(skipped + count) // run), dtype=np.int64), base)
    turned = (high[:, None] + low * high_scale).ravel()[skipped : skipped + count]
    return turned / (low_scale * high_scale)


def _digits_turned(numbers: NDArray[np.int64], base: int) -> tuple[NDArray[np.int64], int]:
    """Whole numbers with their digits in the opposite order, and the power of ``base`` with as many digits."""
    left, turned, scale = numbers, np.zeros_like(numbers), 1
    while left.any():
        left, digit = np.divmod(left, base)
        turned = turned * base + digit
        scale *= base
    return turned, scale


def per_cell(size: int, each: int | NDArray[np.intp], seed: int) -> Array:
    """``each`` colours inside every cell of a lattice of ``size`` points over 0..1.

    ``each`` is one number, or one for every cell, ((size - 1)^3,), blue fastest. Returns (colours, 3) float64, cell by
    cell in that order, spread within the cells.
    """
    corner = cells(size)
    counts = np.broadcast_to(np.asarray(each, dtype=np.intp), len(corner))
    points = _halton(int(counts.sum()), _CELL_BASES, seed)
    points += np.repeat(corner, counts, axis=0)
    points /= size - 1
    return points


def cells(size: int) -> Array:
    """((size - 1)^3, 3) float64: the low corner of every cell, in steps of the lattice, blue fastest."""
    along = np.arange(size - 1, dtype=np.float64)
    return np.stack(np.meshgrid(along, along, along, indexing="ij"), axis=-1).reshape(-1, 3)


def edges(size: int, count: int, seed: int) -> Array:
    """Colours on the edges between neighbouring points of a lattice of ``size`` points, about ``count`` of them.

    All edges, or where they are more than ``count`` those on the surface of the cube; at least one colour on each.
    Interior spreads miss them, and there a lookup errs most: it is a mean of two points only. Returns (M, 3) float64.
    """
    along = np.arange(size, dtype=np.float64)
    a, b, start = (m.ravel() for m in np.meshgrid(along, along, along[:-1], indexing="ij"))
    if 3 * len(start) > count:
        outside = np.isin(a, (0, size - 1)) | np.isin(b, (0, size - 1))
        a, b, start = a[outside], b[outside], start[outside]
    each = max(1, count // (3 * len(start)))
    inside = _halton(3 * len(start) * each, (3,), seed).reshape(3, len(start), each)
    parts = []
    for axis in range(3):
        moving = (start[:, None] + inside[axis]).ravel()
        place = [np.repeat(a, each), np.repeat(b, each)]
        place.insert(axis, moving)
        parts.append(np.stack(place, axis=-1))
    return np.concatenate(parts) / (size - 1)


def neutrals(size: int, each: int) -> Array:
    """``each`` greys strictly inside every step of the neutral axis, (steps x each, 3) float64."""
    count = (size - 1) * each
    return np.repeat(((np.arange(count) + 0.5) / count)[:, None], 3, axis=1)


def sample_stills(
    paths: Iterable[os.PathLike[str] | str],
    count: int = 120_000,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> Array:
    """Pixels from stills, the same number from each, evenly over its area.

    Parameters
    ----------
    paths
        Pictures, in the source encoding of the look. Read one at a time.
    count
        Pixels in all, rounded up to a multiple of the number of stills. Half as many serve 33 points as well; at 65
        the cells that a picture fills are many.
    seed
        Another seed, other places.
    progress
        Called as ``progress(stills_done, stills_in_all)``.

    Returns
    -------
    (stills, count / stills, 3) float64 signal, clipped to 0..1, which is what a lattice sees; still by still, so that
    whole ones can be left out.

    Raises
    ------
    PictureError
        Without stills, or for one that cannot be read.
    """
    files = list(paths)
    if not files:
        raise PictureError("stills", "none were named", "files to draw samples from")
    each = -(-count // len(files))
    parts: list[Array] = []
    for done, path in enumerate(files, 1):
        still = read_either(path)
        place = spread(each, 2, seed)
        rows = (place[:, 0] * still.height).astype(np.intp)
        columns = (place[:, 1] * still.width).astype(np.intp)
        parts.append(np.clip(still.part(rows, columns).astype(np.float64), 0.0, 1.0))
        if progress is not None:
            progress(done, len(files))
    return np.stack(parts)


def fingerprint(samples: NDArray[np.float64]) -> str:
    """First 16 hexadecimal digits of the SHA-256 of the samples: names them in a header."""
    return hashlib.sha256(np.ascontiguousarray(samples, dtype="<f8").tobytes()).hexdigest()[:16]
