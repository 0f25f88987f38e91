"""Colours to measure and to fit a lattice at: even spreads, every cell of a lattice, and pixels of stills.

Nothing here draws random numbers: numpy may change its generators between releases, and the same command
must give the same file. The spreads are additive recurrences x_k = frac(s + k a), which are of low
discrepancy (Niederreiter 1992, "Random Number Generation and Quasi-Monte Carlo Methods", section 3.1);
the steps a are powers of the root of x^(d+1) = x + 1, a generalised golden ratio (common practice, no
formal source).
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from ..errors import PictureError
from .lattice import Array

_ROOTS = {2: 1.32471795724474602596, 3: 1.22074408460575947536}
"""Real roots of x^3 = x + 1 and x^4 = x + 1, solved with 30 digits and rounded to float64."""

_SEED_STEP = np.array([0.7548776662466927, 0.4142135623730951, 0.2360679774997898])
"""Irrational steps (1/1.3247..., sqrt 2 - 1, sqrt 5 - 2) that shift the spread from seed to seed."""

_LARGEST_SEED = 1_000_000
"""Beyond this the shifts would lose digits."""


def spread(count: int, dimensions: int, seed: int) -> Array:
    """An even spread over the unit square or cube.

    Parameters
    ----------
    count
        Points; the first of a longer spread are those of a shorter one.
    dimensions
        2 or 3.
    seed
        0 to 1 000 000; another seed shifts the whole spread, wrapping round.

    Returns
    -------
    (count, dimensions) float64 in 0..1, 1 excluded. Made of products and sums only: the same on every machine.
    """
    if not 0 <= seed <= _LARGEST_SEED:
        raise ValueError(f"seed {seed}, expected 0 to {_LARGEST_SEED}")
    steps = _ROOTS[dimensions] ** -np.arange(1.0, dimensions + 1.0)
    # Twelve digits of each step, so that a power function that differs in its last bit changes nothing.
    steps = np.round(steps, 12)
    shift = np.mod(0.5 + seed * _SEED_STEP[:dimensions], 1.0)
    return np.mod(shift + np.arange(1, count + 1, dtype=np.float64)[:, None] * steps, 1.0)


def per_cell(size: int, each: int, seed: int) -> Array:
    """``each`` colours inside every cell of a lattice of ``size`` points over 0..1.

    Returns (cells x each, 3) float64, cell by cell with blue fastest, spread within the cells.
    """
    side = size - 1
    along = np.arange(side, dtype=np.float64)
    corner = np.stack(np.meshgrid(along, along, along, indexing="ij"), axis=-1).reshape(-1, 1, 3)
    inside = spread(side**3 * each, 3, seed).reshape(-1, each, 3)
    return ((corner + inside) / side).reshape(-1, 3)


def neutrals(size: int, each: int) -> Array:
    """``each`` greys strictly inside every step of the neutral axis, (steps x each, 3) float64."""
    count = (size - 1) * each
    return np.repeat(((np.arange(count) + 0.5) / count)[:, None], 3, axis=1)


def sample_stills(
    paths: Iterable[os.PathLike[str] | str],
    count: int = 60_000,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> Array:
    """Pixels from stills, the same number from each, evenly over its area.

    Parameters
    ----------
    paths
        Pictures, in the source encoding of the look. Read one at a time.
    count
        Pixels in all, rounded up to a multiple of the number of stills.
    seed
        Shifts the places.
    progress
        Called as ``progress(stills_done, stills_in_all)``.

    Returns
    -------
    (count, 3) float64 signal, clipped to 0..1, which is what a lattice sees.

    Raises
    ------
    PictureError
        Without stills, or for one that cannot be read.
    """
    from ..stills import read

    files = list(paths)
    if not files:
        raise PictureError("stills", "none were named", "files to draw samples from")
    each = -(-count // len(files))
    parts: list[Array] = []
    for done, path in enumerate(files, 1):
        pixels = read(path).pixels
        height, width = pixels.shape[:2]
        place = spread(each, 2, seed)
        rows = (place[:, 0] * height).astype(np.intp)
        columns = (place[:, 1] * width).astype(np.intp)
        parts.append(np.clip(pixels[rows, columns].astype(np.float64), 0.0, 1.0))
        if progress is not None:
            progress(done, len(files))
    return np.concatenate(parts)


def fingerprint(samples: NDArray[np.float64]) -> str:
    """First 16 hexadecimal digits of the SHA-256 of the samples: names them in a header."""
    return hashlib.sha256(np.ascontiguousarray(samples, dtype="<f8").tobytes()).hexdigest()[:16]
