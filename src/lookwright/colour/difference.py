"""Colour difference CIEDE2000, and CIELAB from XYZ."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES

D65_XYZ = np.array([0.3127 / 0.3290, 1.0, (1.0 - 0.3127 - 0.3290) / 0.3290])
"""White of CIELAB here: D65 from its published chromaticity 0.3127 0.3290 (CIE 15), Y = 1."""


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike = D65_XYZ) -> Array:
    """CIE 1976 L* a* b* (CIE 15:2018, equations 8.3 to 8.11, from memory of the standard's numbering).

    Parameters
    ----------
    xyz
        (..., 3) tristimulus values on the scale of ``white``; negatives follow the straight part.
    white
        (3,) tristimulus values of the white.

    Returns
    -------
    (..., 3) float64 L* (0..100), a*, b*; not clamped; NaN stays NaN.
    """
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white, dtype=np.float64)
    knee = (6.0 / 29.0) ** 3
    straight = ratio * ((29.0 / 6.0) ** 2 / 3.0) + 4.0 / 29.0
    f = np.where(ratio > knee, np.cbrt(np.maximum(ratio, knee)), straight)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def light_to_lab(light: ArrayLike) -> Array:
    """CIELAB of display light (..., 3), linear BT.2020, under D65, white at reference white."""
    return xyz_to_lab(np.asarray(light, dtype=np.float64) @ primaries(DISPLAY_PRIMARIES).to_xyz.T)


def ciede2000(lab_1: ArrayLike, lab_2: ArrayLike) -> Array:
    """CIEDE2000 colour difference with kL = kC = kH = 1.

    Parameters
    ----------
    lab_1, lab_2
        (..., 3) CIELAB values, broadcast against each other.

    Returns
    -------
    (...) float64, 0 or more; NaN where either is NaN.

    Notes
    -----
    Source: Sharma, Wu and Dalal 2005, "The CIEDE2000 color-difference formula: implementation notes,
    supplementary test data, and mathematical observations", Color Research and Application 30(1),
    equations 2 to 22. Opposite hues (180 degrees apart to rounding) hang on the last bit of the hue
    angles: pair 14 of their table is 4.8045 or 4.7461. Here the difference is taken to be 180 degrees, as
    in their table, when it is within 1e-9 degree of it.
    """
    one, two = np.broadcast_arrays(np.asarray(lab_1, dtype=np.float64), np.asarray(lab_2, dtype=np.float64))
    l1, a1, b1 = one[..., 0], one[..., 1], one[..., 2]
    l2, a2, b2 = two[..., 0], two[..., 1], two[..., 2]
    # a is stretched near grey, where CIELAB is too coarse.
    g = 0.5 * (1.0 - _saturating((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0))
    a1, a2 = a1 * (1.0 + g), a2 * (1.0 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360.0, np.degrees(np.arctan2(b2, a2)) % 360.0
    grey = c1 * c2 == 0.0

    apart = h2 - h1
    wide = np.abs(apart) > 180.0 + 1e-9
    turn = np.where(grey, 0.0, np.where(wide, apart - np.copysign(360.0, apart), apart))
    total = h1 + h2
    mean_far = np.where(total < 360.0, total + 360.0, total - 360.0) / 2.0
    h = np.where(grey, total, np.where(wide, mean_far, total / 2.0))

    d_l, d_c = l2 - l1, c2 - c1
    d_h = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2.0)
    l, c = (l1 + l2) / 2.0, (c1 + c2) / 2.0  # noqa: E741
    t = (
        1.0
        - 0.17 * _cosine(h - 30.0)
        + 0.24 * _cosine(2.0 * h)
        + 0.32 * _cosine(3.0 * h + 6.0)
        - 0.20 * _cosine(4.0 * h - 63.0)
    )
    s_l = 1.0 + 0.015 * (l - 50.0) ** 2 / np.sqrt(20.0 + (l - 50.0) ** 2)
    s_c = 1.0 + 0.045 * c
    s_h = 1.0 + 0.015 * c * t
    theta = 30.0 * np.exp(-(((h - 275.0) / 25.0) ** 2))
    r_t = -2.0 * _saturating(c) * np.sin(np.radians(2.0 * theta))
    p_l, p_c, p_h = d_l / s_l, d_c / s_c, d_h / s_h
    # Rounding can leave the sum a hair below zero.
    return np.sqrt(np.maximum(p_l**2 + p_c**2 + p_h**2 + r_t * p_c * p_h, 0.0))


def _cosine(degrees: Array) -> Array:
    return np.cos(np.radians(degrees))


def _saturating(chroma: Array) -> Array:
    """sqrt(C^7 / (C^7 + 25^7)), written so that no chroma overflows."""
    # (25 / C)^7 is infinite at C = 0, which gives the right limit 0.
    with np.errstate(divide="ignore", over="ignore"):
        return 1.0 / np.sqrt(1.0 + (25.0 / chroma) ** 7)
