"""A curve of three tones in stops that rises for every value of its parameters."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

from .base import smoothstep

LOWEST, HIGHEST, A_STOP = -18, 18, 32
"""Stops from grey that the table spans, and its points to a stop. Nothing bends further out: a border lies at most 6
stops from grey and reaches 3 further, and light moves it by at most 4."""


def above(stops: Array, border: float, width: float) -> Array:
    """0 below the border, 1 above it, smooth over ``width`` stops."""
    return smoothstep((stops - border) / width + 0.5)


def opened(stops: Array, by: float, border: float, width: float) -> Array:
    """``stops`` with all above the border moved up by ``by`` stops, or down for ``by`` < 0; the rest stays.

    Up, t goes to t + by S(t), whose slope is at least 1. Down is the exact inverse of up, so it rises too, with a slope
    of at least 1 / (1 + 1.875 |by| / width); it takes |by| stops more above the border to come to its full effect.
    """
    if by >= 0.0:
        return stops + by * above(stops, border, width)
    low, high = stops + by, stops
    for _ in range(60):  # halvings: to the last digit of a stop
        middle = 0.5 * (low + high)
        under = middle - by * above(middle, border, width) < stops
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return 0.5 * (low + high)


def three_tones(stops: Array, light: tuple[float, float, float], low: float, high: float, width: float) -> Array:
    """``stops`` with shadows, middle and highlights each moved by its ``light`` (stops).

    The tones meet at the borders ``low`` and ``high``, over ``width`` stops. A rising map of a rising map rises.
    """
    shadows, middle, highlights = light
    # Shadows are moved against the middle: what opens upward, seen from the other end of the scale.
    moved = -opened(-stops, middle - shadows, -low, width)
    return opened(moved, highlights - middle, high, width) + middle


class Shift:
    """How far each level is moved by :func:`three_tones`, tabulated; constant beyond the ends of the table."""

    def __init__(self, light: tuple[float, float, float], low: float, high: float, width: float) -> None:
        at = np.asarray(np.arange(LOWEST * A_STOP, HIGHEST * A_STOP + 1) / A_STOP, np.float64)
        moved = three_tones(at, light, low, high, width)
        self._shift = moved - at
        # Derivatives for cubic Hermite pieces, limited as Fritsch & Carlson 1980 so that each piece rises.
        rise = np.pad(np.diff(moved), 1, mode="edge")
        steepest = 3.0 * np.minimum(rise[1:], rise[:-1])
        self._slope = np.minimum(0.5 * (rise[1:] + rise[:-1]), steepest) - 1.0 / A_STOP

    def __call__(self, stops: Array) -> Array:
        """Stops by which each level (stops from grey, any shape) moves."""
        position = (np.clip(stops, LOWEST, HIGHEST) - LOWEST) * A_STOP
        index = np.minimum(position.astype(np.intp), len(self._shift) - 2)
        t = position - index
        y0, m0, m1 = self._shift[index], self._slope[index], self._slope[index + 1]
        d = self._shift[index + 1] - y0
        return np.asarray(y0 + t * (m0 + t * (3.0 * d - 2.0 * m0 - m1 + t * (m0 + m1 - 2.0 * d))))
