"""Hue as a unit vector, and the two small turns a rendering gives it."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.oklab import LAB_TO_LMS

TINY = 1e-200
"""Chroma under which a colour has no hue: its hue vector goes to zero."""

BEND = 0.95
"""Share of the turn below that is made."""
BEND_WITHIN = 0.185
"""Saturation about which the turn ceases: surfaces are turned, pure lights are not."""
# Degrees by which CAM16's lines of constant hue (illuminant discounted) turn in Oklab for a unit of saturation, as a
# Fourier series of hue: 1, cos h, sin h, cos 2h, sin 2h, cos 3h, sin 3h. The same at every lightness (computed).
CAM16_LINES = (2.83, -1.57, -15.67, -3.57, 3.38, 0.51, -2.2)
LINES = np.radians(CAM16_LINES)
SKEW_AT = np.radians(50.0)
SKEW_OVER = 0.16
"""Saturation of a warm light that is turned by half of what the look asks for: flames (0.2), not skin (0.1)."""
STEPS = 40
"""Most fixed-point steps of the inverse: each leaves at most half the error for the largest skew."""
SETTLED = 1e-15
"""A step that moves no hue vector by more ends the search: what follows moves the last digit to and fro."""


def direction(lab: Array) -> tuple[Array, Array]:
    """Chroma (n,) of Oklab (3, n) and its hue as unit vectors (2, n); zero for neutrals."""
    chroma = np.sqrt(lab[1] * lab[1] + lab[2] * lab[2])
    return chroma, lab[1:] * (1.0 / np.maximum(chroma, TINY))


def roots_of(unit: Array) -> Array:
    """(3, n) root cone signals that a unit of saturation adds at lightness 1."""
    return LAB_TO_LMS[:, 1:] @ unit


def turned(unit: Array, angle: Array) -> Array:
    """Unit vectors (2, n) turned by tan(angle) (n,), small, toward yellow where positive."""
    scale = 1.0 / np.sqrt(1.0 + angle * angle)
    return np.stack([(unit[0] - angle * unit[1]) * scale, (unit[1] + angle * unit[0]) * scale])


def near(unit: Array, middle: float) -> Array:
    """1 at hue ``middle``, 0 opposite, smooth round the circle."""
    t = 0.5 + 0.5 * (np.cos(middle) * unit[0] + np.sin(middle) * unit[1])
    return t * t * t


def purity(s: Array) -> Array:
    """How much of a skew a warm light of saturation ``s`` gets, 0..1."""
    fourth = (s * (1.0 / SKEW_OVER)) ** 2
    fourth *= fourth
    return fourth / (1.0 + fourth)


def lines(unit: Array) -> Array:
    """Turn in radians that keeps CAM16's hue when a unit of saturation is lost."""
    c, s = unit
    c2, s2 = c * c - s * s, 2.0 * c * s
    m, a, b, d, e, f, g = LINES
    return m + a * c + b * s + d * c2 + e * s2 + f * (c2 * c - s2 * s) + g * (s2 * c + c2 * s)


class Turns:
    """Turns of hue by what becomes of saturation and brightness; a map of the circle onto itself at each of them."""

    def __init__(self, skew: float = 0.0) -> None:
        """``skew`` in degrees: how far bright warm lights turn toward yellow."""
        self.skew = float(np.radians(skew))

    def angle(self, unit: Array, before: Array, after: Array, share: Array) -> Array:
        """Turn (n,) for saturation ``before`` and ``after`` the tone, ``share`` the slope left of the curve."""
        square = (before * before) * (1.0 / BEND_WITHIN**2)
        angle = lines(unit) * (BEND * (before - after) / (1.0 + square))
        if self.skew:
            angle += self.skew * near(unit, SKEW_AT) * purity(before) * (1.0 - share)
        return angle

    def __call__(self, unit: Array, before: Array, after: Array, share: Array) -> Array:
        """Hue on the screen."""
        return turned(unit, self.angle(unit, before, after, share))

    def undone(self, unit: Array, before: Array, after: Array, share: Array) -> Array:
        """The scene's hue."""
        found = unit
        for _ in range(STEPS):
            last, found = found, turned(unit, -self.angle(found, before, after, share))
            if np.abs(found - last).max(initial=0.0) <= SETTLED:
                break
        return found
