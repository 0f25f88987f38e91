"""The plain rendering at its own values: how scene light is shown where no look says otherwise, and its inverse.

The step ``render`` takes its defaults from here, so there is one plain rendering in the program.
"""

from __future__ import annotations

from functools import cache

from lookwright.arrays import Array
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES
from lookwright.colour.tone import ToneCurve

GREY_PERCENT = 42.0
"""Signal at gamma 2.4, in percent, on which 18 % grey lands."""

SLOPE = 1.15
SHOULDER_STOPS = 1.6
WHITE_STOPS = 6.0
TOE = 0.0
PEAK = 1.0
"""Brightest light, of reference white."""


def grey_light(percent: float) -> float:
    """Display light of a level in percent of signal at gamma 2.4."""
    return float((percent / 100.0) ** 2.4)


@cache
def plain_curve() -> ToneCurve:
    """The tone curve of the plain rendering."""
    return ToneCurve(grey_light(GREY_PERCENT), SLOPE, SHOULDER_STOPS, WHITE_STOPS, TOE, PEAK)


def plain_light(scene: Array) -> Array:
    """Scene light (..., 3), linear ACEScg, to display light, linear BT.2020, 1 = reference white; not clipped."""
    return plain_curve()(scene) @ matrix(SCENE_PRIMARIES, DISPLAY_PRIMARIES).T


def plain_scene(light: Array) -> Array:
    """Display light (..., 3), linear BT.2020, to the scene light whose plain rendering it is."""
    return plain_curve().inverse(light @ matrix(DISPLAY_PRIMARIES, SCENE_PRIMARIES).T)
