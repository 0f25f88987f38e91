"""How much of an effect a step can take before colours would fold.

Steps on the opponent ratios r = (a/L, b/L) turn hues by a map that cannot fold and add something to it. The Jacobian
determinant of the whole is then ``plain + share * added`` at every colour, with ``plain`` > 0 that of the turn alone.
The share is 1 wherever nothing folds; past that it is what leaves every colour :data:`LEAST` of ``plain``. So the
whole step keeps its orientation for every value of its parameters, and recipes that never folded are not changed.
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

LEAST = 0.1
"""Of the determinant without the addition. Larger than what the grids below miss between their points."""

NODES = 720
"""Hues looked at, half a degree apart; the narrowest bell (half gone at 5 degrees) is seen by twenty of them."""

HUES = np.asarray(np.arange(NODES) * (2.0 * np.pi / NODES), np.float64)

FADES = np.asarray((np.arange(24) + 0.5) / 24.0, np.float64)[:, None]
"""Strengths of the fade toward neutral, (24, 1): saturation from near 0 to far out."""


def around(values: Array) -> Array:
    """Derivative by hue (radians) of values (..., NODES) at :data:`HUES`."""
    return (np.roll(values, -1, axis=-1) - np.roll(values, 1, axis=-1)) * (NODES / (4.0 * np.pi))


def share_without_fold(plain: Array, added: Array) -> float:
    """The largest share, at most 1, with ``plain + share * added >= LEAST * plain`` everywhere."""
    worst = float((-added / plain).max())
    return 1.0 if worst <= 1.0 - LEAST else (1.0 - LEAST) / worst
