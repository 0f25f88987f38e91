"""How visible the steps of a gradient may be."""

from __future__ import annotations

from .measure import Measure

SOURCE = "Barten 1999 as in ITU-R BT.2246, Delta-E ITP (ITU-R BT.2124); slope of the psychometric function from memory"

MEASURES = tuple(
    Measure(
        f"banding_{depth}",
        f"banding in {depth} bits",
        "x seen",
        ideal=1.0,
        watch=3.0,
        fail=5.0,
        group="tones",
        reason="Steps along a slow gradient against those of the plain rendering, or against what is just seen where "
        "that "
        "is more: contrast and colour may double them together; three times is past all ordinary grading, and at five "
        "noise of a code no longer hides them",
        source=SOURCE,
        remedy="choose a LUT with more points, or a smoother one",
        plainly="gradients break into bands",
    )
    for depth in (8, 10)
)
