"""Where in a picture something is, in the words of the trade: left, right, top, bottom, middle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array


def where(cells: Array | NDArray[np.bool_]) -> str:
    """Words for the cells that are set, (h, w) bool or weights of at least 0: e.g. ``at the upper left``.

    Thirds of the frame, judged by where the weight lies; ``over most of the picture`` when it lies all over.
    """
    weight = np.asarray(cells, np.float64)
    if weight.sum() <= 0:
        return "nowhere"
    if np.mean(weight > 0) > 0.6:
        return "over most of the picture"
    height, width = weight.shape
    across = _third(weight.sum(axis=0), width)
    down = _third(weight.sum(axis=1), height)
    names = {(0, 0): "at the upper left", (0, 1): "at the top", (0, 2): "at the upper right", (1, 0): "on the left"}
    names |= {(1, 1): "in the middle", (1, 2): "on the right", (2, 0): "at the lower left", (2, 1): "at the bottom"}
    names |= {(2, 2): "at the lower right"}
    return names[(down, across)]


def _third(profile: Array, size: int) -> int:
    """Which third holds the middle of the weight; the middle one too when it spreads over both others."""
    share = np.cumsum(profile) / profile.sum()
    middle = (int(np.searchsorted(share, 0.5)) + 0.5) / size
    return 0 if middle < 0.36 else 2 if middle > 0.64 else 1
