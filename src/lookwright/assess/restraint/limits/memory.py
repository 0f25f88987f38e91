"""What skies and leaves may do."""

from __future__ import annotations

from .measure import Measure

MUNSELL = "Munsell's hue circle: ten hue families of 36 degrees (half of one is 18)"
VALUE = "Munsell's value scale: a step is 10 units of CIELAB lightness"
CHROMA = (
    "de Ridder, Blommaert and Fedorovskaya 1995: naturalness falls on either side of the chroma of the scene; half and "
    "twice from memory"
)

MEASURES = (
    Measure(
        "sky_hue",
        "sky hue",
        "deg",
        ideal=0.0,
        watch=12.0,
        fail=18.0,
        group="colours",
        reason="Quality and naturalness of a picture fall as soon as hues leave the original's; by half a hue family a "
        "blue sky is on the border to cyan or violet",
        source=f"{MUNSELL}; de Ridder, Blommaert and Fedorovskaya 1995",
        remedy="for exteriors ask for a version that turns blues less, or use the LUT at part of its strength",
        plainly="skies change colour",
    ),
    Measure(
        "sky_colour",
        "sky colour kept",
        "x",
        ideal=1.0,
        watch=0.5,
        fail=0.3,
        group="colours",
        reason="At half of its colour a sky looks pale, at a third grey",
        source=CHROMA,
        remedy="for exteriors ask for a version that leaves blues alone, or use the LUT at part of its strength",
        plainly="skies lose their colour",
    ),
    Measure(
        "sky_level",
        "sky lightness",
        "L*",
        ideal=0.0,
        watch=14.0,
        fail=20.0,
        group="colours",
        reason="Beyond what contrast does to a grey of the same level; by two value steps a noon sky is a dusk one",
        source=VALUE,
        remedy="for exteriors use the LUT at part of its strength",
        plainly="skies are too dark or too light",
    ),
    Measure(
        "leaves_hue",
        "leaf hue",
        "deg",
        ideal=0.0,
        watch=12.0,
        fail=18.0,
        group="colours",
        reason="Quality and naturalness of a picture fall as soon as hues leave the original's; by half a hue family "
        "grass is on the border to yellow or blue-green",
        source=f"{MUNSELL}; de Ridder, Blommaert and Fedorovskaya 1995",
        remedy="for exteriors ask for a version that turns greens less, or use the LUT at part of its strength",
        plainly="leaves change colour",
    ),
    Measure(
        "leaves_colour",
        "leaf colour kept",
        "x",
        ideal=1.0,
        watch=0.5,
        fail=0.3,
        group="colours",
        reason="At half of its colour grass looks dry, at a third dead",
        source=CHROMA,
        remedy="for exteriors ask for a version that leaves greens alone, or use the LUT at part of its strength",
        plainly="leaves lose their colour",
    ),
    Measure(
        "leaves_level",
        "leaf lightness",
        "L*",
        ideal=0.0,
        watch=14.0,
        fail=20.0,
        group="colours",
        reason="Beyond what contrast does to a grey of the same level; by two value steps a lit leaf is one in the "
        "dark",
        source=VALUE,
        remedy="for exteriors use the LUT at part of its strength",
        plainly="leaves are too dark or too light",
    ),
)
