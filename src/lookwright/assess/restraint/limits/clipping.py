"""How many real surface colours may go flat."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "flat_colours",
        "surface colours that go flat",
        "%",
        ideal=0.0,
        watch=1.0,
        fail=4.0,
        group="colours",
        reason="EBU R 103 bears 1 % of a picture in error; the 24-patch chart and the 99 CIE 224 samples are things "
        "that "
        "are really in front of a camera, and 4 % is five of them",
        source="EBU R 103 (watch); four times that (fail)",
        remedy="lower saturation and contrast before the LUT",
        plainly="cloth and petals lose their shading",
    ),
    Measure(
        "flat_gamut",
        "limit of real surfaces that goes flat",
        "%",
        ideal=0.0,
        watch=6.0,
        fail=19.0,
        group="colours",
        reason="The most saturated surfaces ever measured; 19 % of them lie outside BT.709 and may touch its end",
        source="Pointer 1980; coverage of BT.709 computed (81 %)",
        remedy="lower saturation before the LUT",
        plainly="the strongest colours lose their shading",
    ),
)
