"""The plain rendering at its own values: how scene light is shown where no look says otherwise, and its inverse.

The step ``render`` takes its defaults from here, so there is one plain rendering in the program. Its greys are those of
ACES 2's tone scale at every peak.
"""

from __future__ import annotations

from functools import cache

from lookwright.arrays import Array
from lookwright.colour.rendering.fit import Volume
from lookwright.colour.rendering.plain_rendering import PlainRendering
from lookwright.colour.spaces.encodings import encoding
from lookwright.colour.spaces.signal import Signal
from lookwright.colour.tone import ToneCurve, for_peak

GREY_PERCENT = 38.3
"""Signal at gamma 2.4, in percent, on which 18 % grey lands at 100 cd/m2: 10 cd/m2."""

SLOPE = 1.187
SHOULDER_STOPS = 2.39
WHITE_STOPS = 9.47
TOE = 0.04
"""Display light, of a white of 100 cd/m2."""

STANDARD = "BT.1886"
"""The output that scene light is shown on where none is named."""


def grey_light(percent: float) -> float:
    """Display light of a level in percent of signal at gamma 2.4."""
    return float((percent / 100.0) ** 2.4)


@cache
def volume(encoding_name: str, primaries_name: str, nits: float) -> Volume:
    """What an output can show up to ``nits`` cd/m2."""
    curve = encoding(encoding_name)
    return Volume(primaries_name, nits / curve.unit_nits, curve.system_gamma)


@cache
def plain_curve(encoding_name: str = STANDARD) -> ToneCurve:
    """The tone curve of the plain rendering for an output at its own peak."""
    e = encoding(encoding_name)
    return for_peak(grey_light(GREY_PERCENT), SLOPE, SHOULDER_STOPS, WHITE_STOPS, TOE, e.rendered_nits, e.unit_nits)


@cache
def plain_rendering(encoding_name: str, primaries_name: str) -> PlainRendering:
    """The plain rendering for an output at its own peak."""
    nits = encoding(encoding_name).rendered_nits
    return PlainRendering(plain_curve(encoding_name), volume(encoding_name, primaries_name, nits))


def _for(signal: Signal | None) -> PlainRendering:
    chosen = signal or Signal.named(STANDARD)
    return plain_rendering(chosen.encoding.name, chosen.primaries.name)


def plain_light(scene: Array, shown_on: Signal | None = None) -> Array:
    """Scene light (..., 3), linear ACEScg, to display light, linear BT.2020, 1 = reference white.

    ``shown_on`` is a display signal; without it, the light of a BT.1886 display.
    """
    return _for(shown_on)(scene)


def plain_scene(light: Array, shown_on: Signal | None = None) -> Array:
    """Display light (..., 3), linear BT.2020, to the scene light whose plain rendering at the display's peak it is.

    Where no scene light is rendered so, the purest of the same hue and brightness; finite for finite light.
    """
    return _for(shown_on).inverse(light)
