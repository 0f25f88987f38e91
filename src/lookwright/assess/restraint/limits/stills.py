"""What may happen to the pictures themselves."""

from __future__ import annotations

from .measure import Measure
from .skin import CHROMA, HOLD, HUES

MEASURES = (
    Measure(
        "still_clipped",
        "pixels newly clipped, worst still",
        "%",
        ideal=0.0,
        watch=1.0,
        fail=5.0,
        group="tones",
        reason="EBU R 103 reports gamut errors when more than 1 % of the picture errs",
        source="EBU R 103",
        remedy="lower the exposure or saturation of that still before the LUT",
        plainly="highlights or colours clip",
    ),
    Measure(
        "still_crushed",
        "pixels newly black, worst still",
        "%",
        ideal=0.0,
        watch=5.0,
        fail=15.0,
        group="tones",
        reason="Share of a still that had tones in the plain rendering and is flat black now; night pictures bear some",
        source="Five times the share of EBU R 103 (watch), as night pictures bear some",
        remedy="lift the shadows of that still before the LUT",
        plainly="shadows go black",
    ),
    Measure(
        "still_skin_hue",
        "skin marks: hue",
        "deg",
        ideal=0.0,
        watch=14.0,
        fail=22.0,
        group="faces",
        reason="As for skin in mixed light, since what light falls on a mark is not known",
        source=HUES,
        remedy=HOLD,
        plainly="skin changes colour",
    ),
    Measure(
        "still_skin_colour",
        "skin marks: saturation",
        "% away",
        ideal=0.0,
        watch=70.0,
        fail=120.0,
        group="faces",
        reason="As for skin in mixed light, since what light falls on a mark is not known",
        source=CHROMA,
        remedy=HOLD,
        plainly="skin is too colourful or too pale",
    ),
)
