"""Colour difference CIEDE2000, and CIELAB from XYZ."""

from __future__ import annotations

import math

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
    equations 2 to 22. Their hue angles are worked with as directions here, (a, b) over the chroma: the mean hue is
    that of the sum of two directions, the sine of the difference their cross product, and multiple angles follow by
    the addition theorems, so that of a dozen functions of angles one is left. Opposite hues (180 degrees apart to
    rounding) hang on the last bit of the hue angles: pair 14 of their table is 4.8045 or 4.7461. Here the difference
    is taken to be 180 degrees, as in their table, when it is within 1e-9 degree of it.
    """
    one, two = np.broadcast_arrays(np.asarray(lab_1, dtype=np.float64), np.asarray(lab_2, dtype=np.float64))
    found = np.empty(one.shape[:-1], np.float64)
    one, two, flat = one.reshape(-1, 3), two.reshape(-1, 3), found.reshape(-1)
    for start in range(0, len(flat), _BLOCK):
        part = slice(start, start + _BLOCK)
        flat[part] = _block(one[part].T, two[part].T)
    return found


_BLOCK = 8192
"""Colours at once: what stands between the steps stays in the cache."""


def _block(one: Array, two: Array) -> Array:
    """(M,) differences of CIELAB (3, M)."""
    (l1, a1, b1), (l2, a2, b2) = np.ascontiguousarray(one), np.ascontiguousarray(two)
    # a is stretched near grey, where CIELAB is too coarse.
    stretch = 1.5 - 0.5 * _saturating((_length(a1, b1) + _length(a2, b2)) / 2.0)
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = _length(a1, b1), _length(a2, b2)
    cosine, sine, d_h = _hues(a1, b1, c1, a2, b2, c2)

    l, c = (l1 + l2) / 2.0, (c1 + c2) / 2.0  # noqa: E741
    off = (l - 50.0) ** 2
    s_l = 1.0 + 0.015 * off / np.sqrt(20.0 + off)
    s_c = 1.0 + 0.045 * c
    s_h = 1.0 + 0.015 * c * _hue_weight(cosine, sine)
    p_l, p_c, p_h = (l2 - l1) / s_l, (c2 - c1) / s_c, d_h / s_h
    r_t = -2.0 * _saturating(c) * _blueness(cosine, sine)
    # Rounding can leave the sum a hair below zero.
    return np.sqrt(np.maximum(p_l * p_l + p_c * p_c + p_h * p_h + r_t * p_c * p_h, 0.0))


_NEARLY_OPPOSITE = 1e-6
"""Square of the length of the sum of two hues' directions, below which the mean hue is taken from angles."""


def _hues(a1: Array, b1: Array, c1: Array, a2: Array, b2: Array, c2: Array) -> tuple[Array, Array, Array]:
    """Cosine and sine of the mean hue, and delta H'. A grey has no hue: the other's counts, 0 for two greys."""
    u1, v1, u2, v2 = _over(a1, c1), _over(b1, c1), _over(a2, c2), _over(b2, c2)
    u, v = u1 + u2, v1 + v2
    squared = u * u + v * v
    length = np.sqrt(squared)
    cosine, sine = _over(u, length), _over(v, length)
    root = np.sqrt(c1 * c2)
    d_h = 2.0 * root * _over(u1 * v2 - v1 * u2, length)
    close = (squared < _NEARLY_OPPOSITE) & (root > 0.0)
    if close.any():
        h1, h2 = (np.degrees(np.arctan2(v[close], u[close])) % 360.0 for u, v in ((u1, v1), (u2, v2)))
        apart, total = h2 - h1, h1 + h2
        wide = np.abs(apart) > 180.0 + 1e-9
        turn = np.where(wide, apart - np.copysign(360.0, apart), apart)
        mean = np.radians(np.where(wide, np.where(total < 360.0, total + 360.0, total - 360.0), total) / 2.0)
        cosine[close], sine[close] = np.cos(mean), np.sin(mean)
        d_h[close] = 2.0 * root[close] * np.sin(np.radians(turn) / 2.0)
    cosine[(squared == 0.0) & ~close] = 1.0
    return cosine, sine, d_h


def _hue_weight(cosine: Array, sine: Array) -> Array:
    """T of equation 15: 1 - .17 cos(h - 30) + .24 cos 2h + .32 cos(3h + 6) - .20 cos(4h - 63)."""
    cos_2, sin_2 = cosine * cosine - sine * sine, 2.0 * sine * cosine
    cos_3, sin_3 = cos_2 * cosine - sin_2 * sine, sin_2 * cosine + cos_2 * sine
    cos_4, sin_4 = cos_2 * cos_2 - sin_2 * sin_2, 2.0 * sin_2 * cos_2
    t = 1.0 + 0.24 * cos_2
    for share, degrees, c, s in ((-0.17, 30.0, cosine, sine), (0.32, -6.0, cos_3, sin_3), (-0.20, 63.0, cos_4, sin_4)):
        angle = math.radians(degrees)
        t += (share * math.cos(angle)) * c
        t += (share * math.sin(angle)) * s
    return t


def _blueness(cosine: Array, sine: Array) -> Array:
    """sin(2 delta theta) of equations 16 and 19: how far the hue is towards 275 degrees."""
    hue = np.degrees(np.arctan2(sine, cosine))
    hue[hue < 0.0] += 360.0
    off = (hue - 275.0) / 25.0
    return np.asarray(np.sin(math.radians(60.0) * np.exp(-off * off)), np.float64)


def _length(a: Array, b: Array) -> Array:
    return np.asarray(np.sqrt(a * a + b * b), np.float64)


def _over(value: Array, length: Array) -> Array:
    """``value / length``, 0 where both are 0."""
    return np.asarray(value / np.maximum(length, _TINY), np.float64)


_TINY = 1e-300


def _saturating(chroma: Array) -> Array:
    """sqrt(C^7 / (C^7 + 25^7)), written so that no chroma overflows."""
    # (25 / C)^7 is infinite at C = 0, which gives the right limit 0.
    with np.errstate(divide="ignore", over="ignore"):
        ratio = 25.0 / chroma
        squared = ratio * ratio
        return np.asarray(1.0 / np.sqrt(1.0 + squared * squared * squared * ratio), np.float64)
