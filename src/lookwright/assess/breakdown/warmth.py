"""How warm a colour is: its distance from the white along the Planckian locus in mired, and across it as Duv."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.balance import WHITE_KELVIN
from lookwright.colour.spaces.planckian import locus_normal, locus_uv, mired, xy_to_uv
from lookwright.colour.spaces.primaries import ACES_WHITE, primaries
from lookwright.colour.spaces.signal import SCENE_PRIMARIES

FARTHEST_DUV = 0.05
"""Farther from the locus a colour is no kind of white, and its temperature means nothing (CIE 15:2018 defines
correlated colour temperature to 0.05, in u'v'; from memory)."""
MIRED = (70.0, 700.0)
"""From 14,300 to 1,430 K: what lamps and skies are."""

FILTERS = (
    # Published mired shifts of the usual conversion filters for lamps, warming positive (makers' tables, from memory).
    ("full warming", 159.0),
    ("three-quarter warming", 120.0),
    ("half warming", 81.0),
    ("quarter warming", 42.0),
    ("eighth warming", 20.0),
    ("eighth cooling", -18.0),
    ("quarter cooling", -35.0),
    ("half cooling", -68.0),
    ("three-quarter cooling", -100.0),
    ("full cooling", -137.0),
)


@dataclass(frozen=True)
class Warmth:
    """A colour against the white of the picture."""

    mired: float
    """Positive is warmer."""
    duv: float
    """Positive is greener (ANSI C78.377)."""


@cache
def _locus() -> tuple[Array, Array, Array]:
    steps = np.arange(MIRED[0], MIRED[1] + 1.0)
    points = np.array([locus_uv(1e6 / m) for m in steps])
    normals = np.array([locus_normal(1e6 / m) for m in steps])
    return steps, points, normals


def _place(uv: Array) -> tuple[float, float]:
    """Mired and Duv of the foot on the locus."""
    steps, points, normals = _locus()
    gap = ((points - uv) ** 2).sum(axis=-1)
    i = int(np.clip(np.argmin(gap), 1, len(steps) - 2))
    a, b, c = gap[i - 1 : i + 2]
    bend = a - 2.0 * b + c
    part = float(np.clip(0.5 * (a - c) / bend, -1.0, 1.0)) if bend > 0.0 else 0.0
    foot = points[i] + part * (points[i + 1] - points[i - 1]) / 2.0
    return float(steps[i] + part), float((uv - foot) @ normals[i])


def warmth_of(scene: Array) -> Warmth | None:
    """The warmth of a light or a surface, linear ACEScg (3,), against the ACES white; None for what is no white."""
    xyz = primaries(SCENE_PRIMARIES).to_xyz @ np.asarray(scene, np.float64)
    if not (xyz > 0.0).all():
        return None
    uv = xy_to_uv((float(xyz[0] / xyz.sum()), float(xyz[1] / xyz.sum())))
    place, duv = _place(uv)
    own = float((xy_to_uv(ACES_WHITE) - locus_uv(WHITE_KELVIN)) @ locus_normal(WHITE_KELVIN))
    if abs(duv - own) > FARTHEST_DUV or not MIRED[0] < place < MIRED[1] - 1.0:
        return None
    return Warmth(place - mired(WHITE_KELVIN), duv - own)


def nearest_filter(shift: float) -> str:
    """The conversion filter for a lamp that comes nearest to a shift in mired; empty within half of the least one."""
    if abs(shift) < 10.0:
        return ""
    name, value = min(FILTERS, key=lambda f: abs(f[1] - shift))
    return f"{name} ({value:+.0f} mired)"
