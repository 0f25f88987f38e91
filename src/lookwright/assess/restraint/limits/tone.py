"""What the tone scale may do: its ends, its levels, its slope."""

from __future__ import annotations

from .measure import OURS, Measure

MEASURES = (
    Measure(
        "black_point",
        "end of the shadows",
        "stops",
        ideal=-9.0,
        watch=-4.5,
        fail=-3.17,
        group="tones",
        reason="A black cloth of 2 % reflectance lies 3.17 stops under an 18 % grey (arithmetic): when it is black "
        "already there is no shadow detail at all; the fill side of a face at 15 % of signal lies about 3 "
        "stops under",
        source="Arithmetic on a reflectance of 2 %",
        remedy="lift the shadows before the LUT, or choose one with a softer toe",
        plainly="shadows go black too early",
    ),
    Measure(
        "white_point",
        "end of the highlights",
        "stops",
        ideal=6.0,
        watch=3.5,
        fail=2.47,
        group="tones",
        reason="White paper lies 2.47 stops over an 18 % grey (arithmetic): it must not be at the end of the scale; "
        "lamps and windows need at least another stop to keep a shape (common practice, no source)",
        source="Arithmetic on the reflectance of white paper",
        remedy="lower the exposure before the LUT, or choose one with a softer shoulder",
        plainly="highlights end too early",
    ),
    Measure(
        "black_level",
        "black level over the plain one",
        "% signal",
        ideal=0.0,
        watch=5.0,
        fail=7.5,
        group="tones",
        reason="Signal of 4.2 % is the black of a reference projector (2000:1), 7.5 % that of a projection of 500:1: "
        "black "
        "that stands above it is seen as grey on any screen",
        source="Contrast of the reference projector, SMPTE RP 431-2 (2000:1, from memory), and of 500:1",
        remedy="set black again after the LUT",
        plainly="blacks are grey",
    ),
    Measure(
        "white_level",
        "brightest white",
        "% signal",
        ideal=100.0,
        watch=88.0,
        fail=75.0,
        group="tones",
        reason="Practical lamps sit at 85 to 90 % of signal (common practice, no source): a scale that ends below "
        "has no room for them",
        source=OURS,
        remedy="set white again after the LUT",
        plainly="white is dull",
    ),
    Measure(
        "grey_level",
        "shift of middle grey",
        "% signal",
        ideal=0.0,
        watch=7.0,
        fail=14.0,
        group="tones",
        reason="7 % of signal at middle grey is half a stop, 14 % a whole one: the LUT then works as an exposure "
        "change, and "
        "what was metered on set no longer holds",
        source="Arithmetic on the plain rendering (its scale is that of ACES 2)",
        remedy="correct the exposure before the LUT",
        plainly="the whole picture is brighter or darker",
    ),
    Measure(
        "contrast",
        "contrast at grey against plain",
        "x",
        ideal=1.0,
        watch=1.5,
        fail=1.8,
        group="tones",
        reason="Pictures want 1 : 1.25 : 1.5 of contrast in average, dim and dark surrounds; a fifth more than even "
        "the dark asks"
        " for is beyond any of them, and so is as much less",
        source="Bartleson and Breneman 1967, from memory",
        remedy="use the LUT at part of its strength",
        plainly="contrast is harsh or flat",
    ),
    Measure(
        "tones_lost",
        "tones that become one",
        "L*",
        ideal=0.0,
        watch=3.5,
        fail=6.0,
        group="tones",
        reason="Lightness that the plain scale has and this one makes flat. Practical lamps and bright clouds stand "
        "at 85 "
        "to 90 % of signal: a scale that is flat from 93 % on (6 units of lightness) takes their shape",
        source=OURS + "; the level of lamps is common practice",
        remedy="lower the exposure before the LUT, or choose one with a softer shoulder and toe",
        plainly="lamps and clouds, or deep shadows, go flat",
    ),
    Measure(
        "tone_fall",
        "fall of the tone scale",
        "10-bit codes",
        ideal=0.0,
        watch=1.0,
        fail=4.0,
        group="tones",
        reason="More light must never give a darker tone; one code is rounding, four codes are one step of an 8-bit "
        "picture",
        source="Arithmetic: steps of an 8-bit picture",
        remedy="choose another LUT: a scale that turns back cannot be mended after it",
        plainly="more light gives a darker tone",
    ),
)
