"""What may happen to the pictures themselves."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "still_clipped",
        "pixels newly clipped, worst still",
        "%",
        ideal=0.0,
        watch=1.0,
        fail=5.0,
        reason="EBU R 103 reports gamut errors when more than 1 % of the picture errs",
        remedy="lower the exposure or saturation of that still before the LUT",
    ),
    Measure(
        "still_crushed",
        "pixels newly black, worst still",
        "%",
        ideal=0.0,
        watch=5.0,
        fail=15.0,
        reason="Share of a still that had tones in the plain rendering and is flat black now; night pictures bear "
        "some (our choice)",
        remedy="lift the shadows of that still before the LUT",
    ),
    Measure(
        "still_skin_hue",
        "skin marks: hue",
        "deg",
        ideal=0.0,
        watch=14.0,
        fail=22.0,
        reason="As for skin in mixed light, since what light falls on a mark is not known",
        remedy="hold skin hues out of the hue changes, or use the LUT at part of its strength",
    ),
    Measure(
        "still_skin_colour",
        "skin marks: saturation",
        "% away",
        ideal=0.0,
        watch=50.0,
        fail=90.0,
        reason="As for skin in mixed light, since what light falls on a mark is not known",
        remedy="lower the saturation of warm hues, or use the LUT at part of its strength",
    ),
)
