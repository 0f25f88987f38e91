"""Lighting ratios: as spoken on set from signal levels, and as they are in light.

On set two levels read off a waveform are divided: "60 over 15 is four to one, two stops". That is the quotient of
*encoded* signal. Light follows only after decoding: through a display gamma of 2.4 the same pair is 28:1, 4.8 stops.
Both are given, because both are useful, and a sentence when they differ.

Both figures use the medians of the two marks. A median of light is the light of the median pixel, so the two
quotients speak of the same pixels and differ by the decoding alone; a mean of light would also bring in how uneven
the mark is (one bright edge in a dark mark can double it). The ratio of mean light, which is what a spot meter
averages, is reported beside it as ``light_of_means``.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

from .levels import Level

SAME_STOPS = 0.25
"""Spoken and decoded ratios nearer than this are called the same: a quarter stop, finer than lamps are set by eye
(common practice, no source)."""

UNEVEN_STOPS = 1.0 / 3.0
"""Mean and median light further apart than this mean that a mark takes in more than one thing: the third of a stop
that lens and lamp scales are marked in (common practice, no source)."""


def stops(ratio: float) -> float:
    """Stops of a ratio of light: log2. Raises ``ValueError`` for a ratio that is not above 0."""
    if not ratio > 0.0:
        raise ValueError(f"a ratio must be above 0, not {ratio}")
    return math.log2(ratio)


def ratio_of_stops(count: float) -> float:
    """The ratio of light that so many stops make: 2 to the power."""
    return 2.0**count


def lighting_ratio(key: float, fill: float) -> float:
    """(key + fill) : fill, the contrast on a face whose key side both lamps reach and whose fill side only one.

    ``key`` and ``fill`` are the light of each lamp alone, in one unit; fill above 0. With key : fill of n : 1 it is
    (n + 1) : 1. The definition is that of several published lessons (check table, lighting arithmetic).
    """
    if not fill > 0.0 or key < 0.0:
        raise ValueError(f"key {key} and fill {fill}: fill must be above 0 and key not below")
    return (key + fill) / fill


def key_over_fill(ratio: float) -> float:
    """The inverse of :func:`lighting_ratio`: key lamp over fill lamp from the contrast on the face, 1 or more."""
    if ratio < 1.0:
        raise ValueError(f"a (key + fill) : fill ratio is at least 1, not {ratio}")
    return ratio - 1.0


def spoken_ratio(ratio: float) -> str:
    """A ratio as people say it, e.g. ``4:1`` or ``2.5:1``: whole numbers from 5 up, halves below.

    A ratio under one is turned round (``1:4``). Rounding is of speech only: nothing is computed from it.
    """
    if ratio < 1.0:
        return f"1:{spoken_ratio(1.0 / ratio).split(':')[0]}" if ratio > 0.0 else "0:1"
    rounded = round(2.0 * ratio) / 2.0 if ratio < 4.75 else float(round(ratio))
    return f"{rounded:g}:1"


def spoken_stops(ratio: float) -> float:
    """Stops of a ratio as loosely spoken, to the nearest half: 3:1 is "a stop and a half", truly 1.585.

    Common practice, no source.
    """
    return round(2.0 * stops(ratio)) / 2.0


@dataclass(frozen=True)
class Ratio:
    """Two marks against each other, ``first`` over ``second``."""

    first: str
    second: str
    first_level: float
    second_level: float
    """Median levels in percent, of the signal that is looked at."""
    spoken: float | None
    """Quotient of these levels, as it is said on set. This and all further quotients are None when one side is not
    above black."""
    spoken_stops: float | None
    light: float | None
    """Quotient of median light in the scene."""
    light_stops: float | None
    light_of_means: float | None
    """Quotient of mean light in the scene, as a spot meter would average it."""
    light_of_means_stops: float | None
    light_is: str
    """Where the light figures come from, in words."""
    displayed: float | None
    """Quotient of median display light, where the levels are those of a display signal."""
    displayed_stops: float | None
    uneven: tuple[str, ...]
    """Names of marks whose mean and median light differ by more than :data:`UNEVEN_STOPS`."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON; the sentence is included."""
        return {**asdict(self), "sentence": self.sentence_when_different()}

    def sentence_when_different(self) -> str:
        """One or two plain sentences when signal and light tell different ratios; empty when they agree."""
        if self.spoken is None or self.spoken_stops is None or self.light is None or self.light_stops is None:
            return f"{self.first!r} over {self.second!r}: one of them holds no light, so there is no ratio."
        if abs(self.light_stops - self.spoken_stops) < SAME_STOPS:
            return ""
        text = (
            f"{self.first!r} at {self.first_level:.0f} % over {self.second!r} at {self.second_level:.0f} % is "
            "spoken of "
            f"as {spoken_ratio(self.spoken)} ({self.spoken_stops:.1f} stops), but that divides encoded signal: in "
            f"{self.light_is} it is {_precise(self.light)} ({self.light_stops:.1f} stops)"
        )
        if self.displayed is not None and self.displayed_stops is not None:
            text += f", and on the display {_precise(self.displayed)} ({self.displayed_stops:.1f} stops)"
        text += "."
        if self.uneven and self.light_of_means is not None and self.light_of_means_stops is not None:
            names = " and ".join(repr(n) for n in self.uneven)
            text += f" Mind that {names} {'is' if len(self.uneven) == 1 else 'are'} unevenly lit: by mean light it is "
            text += f"{_precise(self.light_of_means)} ({self.light_of_means_stops:.1f} stops)."
        return text


def _precise(ratio: float) -> str:
    return f"{ratio:.0f}:1" if ratio >= 9.5 else f"{ratio:.1f}:1" if ratio >= 1.0 else f"1:{1.0 / ratio:.1f}"


def _quotient(first: float, second: float) -> tuple[float, float] | tuple[None, None]:
    if not first > 0.0 or not second > 0.0:
        return None, None
    return first / second, math.log2(first / second)


def ratio(first: Level, second: Level, first_shown: Level | None = None, second_shown: Level | None = None) -> Ratio:
    """Compare two measured marks.

    Parameters
    ----------
    first, second
        Levels of the frame as it was recorded (or as it stands, for a display picture): their light is compared.
    first_shown, second_shown
        The same marks on the picture that is looked at, e.g. after the look; both or neither. Their levels are the
        ones spoken of. Without them the levels of ``first`` and ``second`` themselves are divided.
    """
    top, bottom = (first_shown, second_shown) if first_shown and second_shown else (first, second)
    spoken, spoken_in_stops = _quotient(top.luma.median, bottom.luma.median)
    a, b = first.scene.reflectance, second.scene.reflectance
    light, light_in_stops = _quotient(a.median, b.median)
    means, means_in_stops = _quotient(a.mean, b.mean)
    displayed, displayed_in_stops = None, None
    if top.display is not None and bottom.display is not None:
        displayed, displayed_in_stops = _quotient(top.display.relative.median, bottom.display.relative.median)
    uneven = tuple(m.name for m in (first, second) if abs(m.scene.stops - m.scene.stops_of_mean) > UNEVEN_STOPS)
    estimated = first.scene.estimated or second.scene.estimated
    return Ratio(
        first.name,
        second.name,
        top.luma.median,
        bottom.luma.median,
        spoken,
        spoken_in_stops,
        light,
        light_in_stops,
        means,
        means_in_stops,
        "scene light, estimated through the plain rendering," if estimated else "light",
        displayed,
        displayed_in_stops,
        uneven,
    )
