"""What becomes of the stills given: most pixels are fitted to, some serve the choices, some nothing but the report."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.errors import PictureError

HELD = 5
"""One in so many pixels serves the choices, one in so many the report, and one in so many stills is left out whole.
Not a multiple of 2 or 3, the bases of the spread that the pixels were drawn by: every fourth of them would all lie in
one quarter of the picture."""

_CHOSEN, _KEPT = 4, 2
_LEFT_OUT = 20_000
"""Pixels at most of the stills left out."""


@dataclass(frozen=True)
class Shares:
    """The stills, divided; each (stills, M, 3), and no colour in two of them."""

    fitted: Array
    """What the lattice is fitted to."""
    chosen: Array
    """Other pixels of the same stills, by which choices are made."""
    kept: Array
    """Other pixels again, for the report alone."""
    left_out: Array
    """Whole stills for the report alone: the last one of two to nine, and so on; of a single still none."""


def shared(stills: Array) -> Shares:
    """Divide (stills, M, 3) colours."""
    count = len(stills)
    whole = max(1, count // HELD) if count > 1 else 0
    given, left_out = stills[: count - whole], stills[count - whole :]
    turn = np.arange(stills.shape[1]) % HELD
    fitted = (turn != _CHOSEN) & (turn != _KEPT)
    # The first of a longer spread are a shorter spread.
    some = left_out[:, : _LEFT_OUT // whole] if whole else left_out
    return Shares(given[:, fitted], given[:, turn == _CHOSEN], given[:, turn == _KEPT], some)


def as_stills(samples: ArrayLike | None) -> Array:
    """Samples as (stills, M, 3), clipped to 0..1, which is what a lattice sees; (M, 3) counts as one still, none as
    (0, 0, 3). Raises PictureError for NaN."""
    if samples is None or np.size(samples) == 0:
        return np.empty((0, 0, 3))
    points = np.asarray(samples, dtype=np.float64)
    if np.isnan(points).any():
        raise PictureError("samples", "NaN among the colours", "numbers")
    return np.clip(points if points.ndim == 3 else points.reshape(1, -1, 3), 0.0, 1.0)
