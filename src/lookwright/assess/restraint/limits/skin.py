"""What skin may do: its hue, its colour, its level, and how alike dark and light skin are treated."""

from __future__ import annotations

from .measure import Measure

HUES = (
    "Arithmetic on measured and preferred skin: 24-patch chart, CIE 224 samples 15 and 18, Xiao et al. 2017, "
    "Chen et al. 2013"
)
CHROMA = "Arithmetic on CIE 224 samples 15 and 18 (measured), Chen et al. 2013 and an IS&T abstract (preferred)"
HOLD = "ask for a version that leaves skin alone, or use the LUT at part of its strength"

MEASURES = (
    Measure(
        "skin_hue",
        "skin hue",
        "deg",
        ideal=0.0,
        watch=8.0,
        fail=12.0,
        group="faces",
        reason="Measured and preferred skin of several groups lies within 22 degrees of Oklab hue (38 to 60); a turn "
        "of "
        "more than half of that takes skin out of it",
        source=HUES,
        remedy=HOLD,
        plainly="skin changes colour",
    ),
    Measure(
        "skin_colour",
        "skin colourfulness",
        "% away",
        ideal=0.0,
        watch=35.0,
        fail=60.0,
        group="faces",
        reason="Preferred skin (C* 24.7 and 25.4) is 10 to 32 % higher in chroma than measured skin (C* 19.2 and "
        "22.5); "
        "twice that margin is beyond all of them",
        source=CHROMA,
        remedy="ask for a version that leaves skin alone, or use the LUT at part of its strength",
        plainly="skin is too colourful or too pale",
    ),
    Measure(
        "skin_hue_mixed",
        "skin hue, mixed light",
        "deg",
        ideal=0.0,
        watch=14.0,
        fail=22.0,
        group="faces",
        reason="In warm and cool light at once skin has no one right hue, and a split may move it; more than the whole "
        "width of measured skin hues (22 degrees) looks painted",
        source=HUES,
        remedy=HOLD,
        plainly="skin in mixed light changes colour",
    ),
    Measure(
        "skin_colour_mixed",
        "skin colourfulness, mixed light",
        "% away",
        ideal=0.0,
        watch=70.0,
        fail=120.0,
        group="faces",
        reason="As for balanced light, twice: a split parts the two sides of a face by as much again",
        source=CHROMA,
        remedy="ask for a version that leaves skin alone, or use the LUT at part of its strength",
        plainly="skin in mixed light is too colourful or too pale",
    ),
    Measure(
        "skin_level",
        "skin level",
        "% signal",
        ideal=0.0,
        watch=7.0,
        fail=14.0,
        group="faces",
        reason="A stop at the level of a lit face is 14 % of signal and half a stop 7 %: beyond it the face is no "
        "longer "
        "lit as it was metered",
        source="Arithmetic on the plain rendering (its scale is that of ACES 2)",
        remedy="correct the exposure before the LUT",
        plainly="faces come out brighter or darker than they were lit",
    ),
    Measure(
        "skin_even_hue",
        "dark against light skin: hue",
        "deg",
        ideal=0.0,
        watch=7.0,
        fail=11.0,
        group="faces",
        reason="Means of four groups of people differ by 3.4 degrees (CIELAB 65.0 to 68.4): what parts dark skin from "
        "light by three times that invents a difference",
        source="Arithmetic on Xiao et al. 2017, Skin Res. Technol. 23:21-29",
        remedy=HOLD,
        plainly="dark and light skin are turned apart",
    ),
    Measure(
        "skin_even_colour",
        "dark against light skin: colour",
        "x",
        ideal=1.0,
        watch=1.35,
        fail=1.6,
        group="faces",
        reason="Preferred chroma hardly differs between four skin types; the whole margin between measured and "
        "preferred "
        "skin is a factor of 1.32, and no look should spend twice that on the difference",
        source="IS&T abstract (four skin types, 90 observers); CIE 224 samples 15 and 18",
        remedy=HOLD,
        plainly="dark and light skin gain or lose colour apart",
    ),
    Measure(
        "skin_even_level",
        "dark against light skin: level",
        "% signal",
        ideal=0.0,
        watch=4.7,
        fail=7.0,
        group="faces",
        reason="What contrast does to greys of the same level is not counted; half a stop (7 %) more for one face than "
        "for another is another light on it",
        source="Arithmetic on the plain rendering (its scale is that of ACES 2)",
        remedy=HOLD,
        plainly="dark and light skin are lit apart",
    ),
)
