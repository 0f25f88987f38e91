"""What the tone scale may do: its ends, its levels, its slope."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "black_point",
        "end of the shadows",
        "stops",
        ideal=-9.0,
        watch=-4.5,
        fail=-3.17,
        reason="A black cloth of 2 % reflectance lies 3.17 stops under an 18 % grey (arithmetic): when it is black "
        "already there is no shadow detail at all; the fill side of a face at 15 % of signal lies about 3 "
        "stops under",
        remedy="lift the shadows before the LUT, or choose one with a softer toe",
    ),
    Measure(
        "white_point",
        "end of the highlights",
        "stops",
        ideal=6.0,
        watch=3.5,
        fail=2.47,
        reason="White paper lies 2.47 stops over an 18 % grey (arithmetic): it must not be at the end of the scale; "
        "lamps and windows need at least another stop to keep a shape (common practice, no source)",
        remedy="lower the exposure before the LUT, or choose one with a softer shoulder",
    ),
    Measure(
        "black_level",
        "black level over the plain one",
        "% signal",
        ideal=0.0,
        watch=5.0,
        fail=10.0,
        reason="Faded blacks of about 5 % are an old taste; at 10 % the darkest tone stands where a silhouette "
        "should (15 % or less; common practice, no source)",
        remedy="set black again after the LUT",
    ),
    Measure(
        "white_level",
        "brightest white",
        "% signal",
        ideal=100.0,
        watch=88.0,
        fail=75.0,
        reason="Practical lamps sit at 85 to 90 % of signal (common practice, no source): a scale that ends below "
        "has no room for them",
        remedy="set white again after the LUT",
    ),
    Measure(
        "grey_level",
        "shift of middle grey",
        "% signal",
        ideal=0.0,
        watch=6.0,
        fail=14.0,
        reason="6 % of signal at middle grey is about 0.45 stop, 14 % about a whole one (arithmetic on the plain "
        "rendering): the LUT then works as an exposure change, and what was metered on set no longer holds",
        remedy="correct the exposure before the LUT",
    ),
    Measure(
        "contrast",
        "contrast at grey against plain",
        "x",
        ideal=1.0,
        watch=1.5,
        fail=2.0,
        reason="Pictures want 1 : 1.25 : 1.5 of contrast in average, dim and dark surrounds (Bartleson and Breneman "
        "1967, from memory); more than half as much again is beyond any of them, and so is less than two "
        "thirds",
        remedy="use the LUT at part of its strength",
    ),
    Measure(
        "tone_fall",
        "fall of the tone scale",
        "10-bit codes",
        ideal=0.0,
        watch=1.0,
        fail=4.0,
        reason="More light must never give a darker tone; one code is rounding, four codes are one step of an 8-bit "
        "picture",
        remedy="choose another LUT: a scale that turns back cannot be mended after it",
    ),
)
