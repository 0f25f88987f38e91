"""What tints greys may take."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "grey_card_tint",
        "tint of the grey card",
        "dE2000",
        ideal=0.0,
        watch=2.0,
        fail=4.0,
        group="tones",
        reason="About 1 is just visible side by side, 2 in a picture; a wall or a shirt that should be grey no longer "
        "is at "
        "twice that",
        source="CIEDE2000 is scaled so that 1 is just visible side by side; Stokes, Fairchild and Berns 1992: 2.2 is "
        "just seen in pictures (from memory)",
        remedy="rebalance before the LUT, or choose one that leaves greys alone",
        plainly="greys take on a tint",
    ),
    Measure(
        "grey_tint",
        "tint of greys, whole scale",
        "dE2000",
        ideal=0.0,
        watch=4.0,
        fail=8.0,
        group="tones",
        reason="Shadows and highlights bear twice the tint of a middle grey",
        source="Twice the above: shadows and highlights have no memory colour",
        remedy="use the LUT at part of its strength",
        plainly="shadows or highlights take on a strong tint",
    ),
    Measure(
        "grey_swing",
        "swing of the grey tint",
        "CIELAB a stop",
        ideal=0.0,
        watch=3.0,
        fail=6.0,
        group="tones",
        reason="A tint that comes or goes by more than is just seen in a picture within a stop draws coloured bands "
        "across a "
        "lit wall",
        source="As above: what is just seen in pictures (2.2), twice and more",
        remedy="use the LUT at part of its strength",
        plainly="the tint of greys changes along a lit wall",
    ),
    Measure(
        "grey_crossings",
        "changes of side of the grey tint",
        "times",
        ideal=0.0,
        watch=1.5,
        fail=2.5,
        group="tones",
        reason="Cool shadows and warm highlights cross once. Slope, offset and power of a channel bend a scale across "
        "another "
        "twice at most: three crossings cannot be graded back",
        source="Arithmetic on the ASC CDL (three numbers a channel)",
        remedy="choose another LUT: no simple correction mends this",
        plainly="greys go warm, cool and warm again",
    ),
)
