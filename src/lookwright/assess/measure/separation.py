"""How much further apart warm and cool parts of a picture are after a grade than before it.

The parts are those of the picture before: the same pixels are followed through the grade, with the weights they had.
Taken from the grade itself, a tint on greys would make them members and pull both means in, and falling colour would
drop the pale members and push them out; neither is what an eye that knows the picture sees.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.oklab import light_to_oklab

from .poles import LEAST_SHARE, NEUTRAL_CHROMA, WARM_AXIS_DEG


@dataclass(frozen=True)
class Separation:
    """Warm and cool of the same pixels, before and after."""

    before: float
    """Distance of the two means in the Oklab a, b plane."""
    after: float
    hues_before: float
    """Angle between the two mean hues, 0 to 180 degrees."""
    hues_after: float

    @property
    def gained(self) -> float:
        """Percent."""
        return 100.0 * (self.after / self.before - 1.0)


def separation(before: Array, after: Array) -> Separation | None:
    """Of the same pixels (n, 3) before and after, display light, linear BT.2020; None where either part is absent
    (fewer than a thousandth of the pixels)."""
    lab, graded = light_to_oklab(before), light_to_oklab(after)
    weight = np.hypot(lab[:, 1], lab[:, 2])
    axis = np.radians(WARM_AXIS_DEG)
    warm = lab[:, 1] * np.cos(axis) + lab[:, 2] * np.sin(axis) >= 0.0
    means = []
    for side in (warm, ~warm):
        member = side & (weight >= NEUTRAL_CHROMA)
        if member.mean() < LEAST_SHARE:
            return None
        share = weight[member] / weight[member].sum()
        means.append((share @ lab[member, 1:], share @ graded[member, 1:]))
    found = []
    for i in (0, 1):
        a, b = means[0][i], means[1][i]
        hues = np.degrees(np.arctan2(a[1], a[0]) - np.arctan2(b[1], b[0]))
        found.append((float(np.hypot(*(a - b))), float(abs((hues + 180.0) % 360.0 - 180.0))))
    (d0, h0), (d1, h1) = found
    return Separation(d0, d1, h0, h1) if d0 > 0.0 else None
