"""Display pictures through the inverse of the plain rendering and back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lookwright.colour.difference import ciede2000, xyz_to_lab
from lookwright.colour.plain import plain_light, plain_scene
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.signal import Signal

TRIPS = {"sRGB": 1.0, "BT.1886": 1.0, "BT.2100 PQ": 0.7518270, "BT.2100 HLG": 1.0}
"""Encodings with the largest signal at the peak that pictures in them are rendered for (PQ: 1000 cd/m2)."""


@dataclass(frozen=True)
class Trip:
    """What came back."""

    finite: bool
    same: float
    """Share of the signals that come back within 1e-6, in signal and in light."""
    errors: NDArray[np.float64]
    """CIEDE2000 of each."""


def trip(name: str, signal: NDArray[np.float64]) -> Trip:
    """Signals (n, 3) of a display encoding to scene light and back."""
    shown = Signal.named(name)
    light = shown.to_light(signal)
    scene = plain_scene(light, shown)
    again = plain_light(scene, shown)
    off = np.maximum(np.abs(shown.from_light(again) - signal).max(axis=1), np.abs(again - light).max(axis=1))
    to_xyz = primaries("BT.2020").to_xyz.T
    before, after = (xyz_to_lab(np.maximum(x, 0.0) @ to_xyz) for x in (light, again))
    return Trip(bool(np.isfinite(scene).all()), float((off < 1e-6).mean()), np.asarray(ciede2000(before, after)))
