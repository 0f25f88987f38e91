"""The Planckian locus, close enough for a colour balance and quick to evaluate."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array


def locus_uv(kelvin: float) -> Array:
    """CIE 1960 (u, v) of a full radiator.

    Krystek 1985, Color Research & Application 10:38-40: rational approximations, within 1.3e-4 in u
    and v of Planck's law with the CIE 1931 observer from 1000 to 15000 K (tests/published/test_balance.py).
    """
    t = float(np.clip(kelvin, 1000.0, 15000.0))
    u = (0.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t * t) / (1.0 + 8.42420235e-4 * t + 7.08145163e-7 * t * t)
    v = (0.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t * t) / (1.0 - 2.89741816e-5 * t + 1.61456053e-7 * t * t)
    return np.array([u, v])


def locus_normal(kelvin: float) -> Array:
    """Unit normal of the locus in (u, v), toward green: the direction of positive Duv (ANSI C78.377)."""
    step = 1.0
    tangent = locus_uv(kelvin + step) - locus_uv(kelvin - step)
    normal = np.array([tangent[1], -tangent[0]])
    # Green lies toward larger v; on the locus the normal's v part never vanishes.
    normal *= np.sign(normal[1]) or 1.0
    return normal / np.linalg.norm(normal)


def xy_to_uv(xy: tuple[float, float] | Array) -> Array:
    """CIE 1960 (u, v) of CIE 1931 (x, y)."""
    x, y = xy
    d = -2.0 * x + 12.0 * y + 3.0
    return np.array([4.0 * x / d, 6.0 * y / d])


def uv_to_xy(uv: Array) -> tuple[float, float]:
    """CIE 1931 (x, y) of CIE 1960 (u, v)."""
    u, v = uv
    d = 2.0 * u - 8.0 * v + 4.0
    return float(3.0 * u / d), float(2.0 * v / d)


def mired(kelvin: float) -> float:
    """Reciprocal megakelvin."""
    return 1e6 / kelvin
