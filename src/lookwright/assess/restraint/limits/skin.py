"""What skin may do: its hue, its saturation, its level."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "skin_hue",
        "skin hue",
        "deg",
        ideal=0.0,
        watch=8.0,
        fail=12.0,
        reason="Measured and preferred skin of several groups lies within 22 degrees of Oklab hue (38 to 60: "
        "24-patch chart, CIE 224 samples 15 and 18, published means); a turn of more than half of that takes "
        "skin out of it",
        remedy="hold skin hues out of the hue changes, or use the LUT at part of its strength",
    ),
    Measure(
        "skin_colour",
        "skin saturation",
        "% away",
        ideal=0.0,
        watch=30.0,
        fail=50.0,
        reason="Preferred skin (C* 24.7 and 25.4, two published studies) is 10 to 30 % higher in chroma than "
        "measured skin (C* 19.2 and 22.5, CIE 224 samples); half as much again is beyond all of them",
        remedy="lower the saturation of warm hues, or use the LUT at part of its strength",
    ),
    Measure(
        "skin_hue_mixed",
        "skin hue, mixed light",
        "deg",
        ideal=0.0,
        watch=14.0,
        fail=22.0,
        reason="In warm and cool light at once skin has no one right hue, and a split may move it; more than the "
        "whole width of measured skin hues (22 degrees) looks painted (our choice)",
        remedy="hold skin hues out of the hue changes, or use the LUT at part of its strength",
    ),
    Measure(
        "skin_colour_mixed",
        "skin saturation, mixed light",
        "% away",
        ideal=0.0,
        watch=50.0,
        fail=90.0,
        reason="As for balanced light, with room for a split to part the two sides of a face (our choice)",
        remedy="lower the saturation of warm hues, or use the LUT at part of its strength",
    ),
    Measure(
        "skin_level",
        "skin level",
        "% signal",
        ideal=0.0,
        watch=6.0,
        fail=12.0,
        reason="At the level of a lit face 6 % of signal is a little under half a stop, and 12 % a little under a "
        "whole one (arithmetic on the plain rendering): beyond it the face is no longer lit as it was metered",
        remedy="correct the exposure before the LUT",
    ),
)
