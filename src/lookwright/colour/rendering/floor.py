"""A floor under cone signals: every channel positive, whatever the scene light, and exactly undone."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

SHARE = 0.02
"""How far under the largest channel the floor bends, as a share of it."""
BLACK = 1e-5
"""The absolute part of the bend, in scene light: 14 stops under grey. Without it negative noise has no colour."""
SCALE = 0.5 * (1.0 + float(np.sqrt(1.0 + 4.0 * SHARE * SHARE)))
"""Makes a neutral its own image."""
LEAST = float((SHARE / SCALE) ** (1.0 / 3.0))
"""Root of the share of the largest channel that a channel without any light ends at."""
LOWEST = 1e-30
"""Cone signals from which light is found back are held over this: zero has no inverse."""
MOST = 1e12
"""Light beyond this (42 stops over grey) is held, so that no finite input overflows."""


def raised(cones: Array) -> Array:
    """Cone signals (3, n) with every channel above zero.

    c' = (c + sqrt(c^2 + 4 f^2)) / 2Q with f^2 = (SHARE m)^2 + BLACK^2, m the largest channel, Q = SCALE: neutrals stay
    (but for 1e-5), the map is scale-invariant above BLACK, and light whose cone signals are >= 0, as all real light's
    are, moves little.
    """
    cones = np.clip(cones, -MOST, MOST)
    most = np.maximum(cones.max(axis=0), 0.0)
    f2 = most * most
    f2 *= SHARE * SHARE
    f2 += BLACK * BLACK
    root = np.sqrt(cones * cones + 4.0 * f2)
    up = cones + root
    if cones.min() < 0.0:  # there the sum is a difference of near equals; its other form is not
        up = np.where(cones < 0.0, 4.0 * f2 / (root + np.abs(cones)), up)
    up *= 0.5 / SCALE
    return up


def lowered(cones: Array) -> Array:
    """The inverse of :func:`raised`."""
    up = np.maximum(cones * SCALE, LOWEST)
    top = up.max(axis=0)
    # The largest channel m itself: top - (SHARE^2 m^2 + BLACK^2) / top = m.
    a = SHARE * SHARE / top
    rest = top - BLACK * BLACK / top
    most = np.maximum(2.0 * rest / (1.0 + np.sqrt(np.maximum(1.0 + 4.0 * a * rest, 0.0))), 0.0)
    return up - (SHARE * SHARE * most * most + BLACK * BLACK) / up
