"""How many real surface colours may clip."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "clipped_colours",
        "surface colours newly clipped",
        "%",
        ideal=0.0,
        watch=1.0,
        fail=4.0,
        reason="The 24-patch chart and the 99 CIE 224 samples are things that are really in front of a camera; 4 % "
        "is five of them",
        remedy="lower saturation and contrast before the LUT",
    ),
    Measure(
        "clipped_gamut",
        "limit of real surfaces newly clipped",
        "%",
        ideal=0.0,
        watch=6.0,
        fail=15.0,
        reason="The most saturated surfaces ever measured (Pointer 1980) may touch the end of a channel, not pile up"
        " there (our choice)",
        remedy="lower saturation before the LUT",
    ),
)
