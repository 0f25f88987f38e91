"""How near colours may come to changing places."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "fold",
        "room between neighbouring colours",
        "x",
        ideal=1.0,
        watch=0.05,
        fail=-0.01,
        reason="At 0 two colours have become one; below 0 they have changed places (the Jacobian of the map from the"
        " plain to the graded picture, in Oklab, has a negative determinant), which no later grade can undo",
        remedy="choose another LUT: a fold cannot be mended after it",
    ),
    Measure(
        "hue_order",
        "slowest run of hues",
        "x",
        ideal=1.0,
        watch=0.3,
        fail=-0.02,
        reason="At 0.3 three hues share the room of one; below 0 hues run backwards, so that a rainbow has a seam",
        remedy="choose another LUT: hues out of order cannot be mended after it",
    ),
    Measure(
        "hue_stretch",
        "fastest run of hues",
        "x",
        ideal=1.0,
        watch=3.0,
        fail=6.0,
        reason="Hues pulled apart six times make two colours of one: noise and compression show as coloured blotches"
        " (our choice)",
        remedy="use the LUT at part of its strength",
    ),
)
