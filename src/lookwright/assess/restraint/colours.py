"""The colours that measures send through: greys and circles of hues."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.oklab import GREY_LIGHTNESS, opponent_to_scene

GREY = 0.18


def stops_range(low: float, high: float, step: float) -> Array:
    """low, low + step, .. high."""
    return np.asarray(low + step * np.arange(round((high - low) / step) + 1), np.float64)


def greys(stops: Array) -> Array:
    """Neutral scene light (n, 3) at so many stops from middle grey."""
    return np.repeat((GREY * np.exp2(stops))[..., None], 3, axis=-1)


def hues(stops: Array | float, saturation: Array | float, hue_deg: Array) -> Array:
    """Scene light, linear ACEScg, at these Oklab hues.

    ``stops`` is that of the lightness, ``saturation`` is chroma over lightness (skin has about 0.08, a BT.709
    primary 0.34 to 0.69); the three broadcast. Returns (..., 3).
    """
    s, c, h = np.broadcast_arrays(
        np.asarray(stops, np.float64), np.asarray(saturation, np.float64), np.radians(hue_deg)
    )
    return opponent_to_scene(np.stack([GREY_LIGHTNESS * np.exp2(s / 3.0), c * np.cos(h), c * np.sin(h)], axis=-1))
