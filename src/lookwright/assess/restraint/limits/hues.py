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
        group="colours",
        reason="At 0 two colours have become one; below 0 they have changed places (the Jacobian of the map from the"
        " plain to the graded picture, in Oklab, has a negative determinant), which no later grade can undo",
        source="Mathematics: a map whose Jacobian has a negative determinant is not one to one",
        remedy="use the LUT at part of its strength, or another: a fold cannot be mended after it",
        plainly="colours change places",
    ),
    Measure(
        "fold_strong",
        "room between strong colours",
        "x",
        ideal=1.0,
        watch=0.02,
        fail=-0.03,
        group="colours",
        reason="As above, for colours out to the limit of the display, where a lattice follows the plain rendering "
        "less "
        "closely: a harmless LUT of 33 points reaches -0.01 there (measured)",
        source="Mathematics, and the bank of harmless LUTs",
        remedy="use the LUT at part of its strength, or another: a fold cannot be mended after it",
        plainly="strong colours change places",
    ),
    Measure(
        "hue_order",
        "slowest run of hues",
        "x",
        ideal=1.0,
        watch=0.3,
        fail=-0.02,
        group="colours",
        reason="At 0.3 three hues share the room of one; below 0 hues run backwards, so that a rainbow has a seam",
        source="Mathematics: below 0 the order is reversed; three hues in the room of one is a third",
        remedy="use the LUT at part of its strength, or another: hues out of order cannot be mended after it",
        plainly="a rainbow would have a seam",
    ),
    Measure(
        "hue_stretch",
        "fastest run of hues",
        "x",
        ideal=1.0,
        watch=3.0,
        fail=5.0,
        group="colours",
        reason="A step of hue is 3.6 degrees; pulled apart five times, two neighbours stand half a hue family apart, "
        "and noise and "
        "compression show as coloured blotches",
        source="Munsell's hue circle: a hundred hue steps, ten families",
        remedy="use the LUT at part of its strength",
        plainly="neighbouring hues are torn apart",
    ),
)
