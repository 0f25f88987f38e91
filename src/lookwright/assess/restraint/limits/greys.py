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
        reason="About 1 is just visible side by side (CIEDE2000 is scaled so); 2 is seen at a glance on a large "
        "area, and a wall or a shirt that should be grey no longer is at 4 (common practice, no source)",
        remedy="rebalance before the LUT, or choose one that leaves greys alone",
    ),
    Measure(
        "grey_tint",
        "tint of greys, whole scale",
        "dE2000",
        ideal=0.0,
        watch=4.0,
        fail=8.0,
        reason="Shadows and highlights bear twice the tint of a middle grey: they have no memory colour (our choice)",
        remedy="use the LUT at part of its strength",
    ),
    Measure(
        "grey_swing",
        "swing of the grey tint",
        "CIELAB a stop",
        ideal=0.0,
        watch=2.0,
        fail=5.0,
        reason="A tint that comes or goes by more than a just visible step within half a stop draws coloured bands "
        "across a lit wall (our choice)",
        remedy="use the LUT at part of its strength",
    ),
    Measure(
        "grey_crossings",
        "changes of side of the grey tint",
        "times",
        ideal=0.0,
        watch=1.5,
        fail=2.5,
        reason="Cool shadows and warm highlights cross once; a scale that goes warm, cool and warm again cannot be "
        "graded back with two controls (our choice)",
        remedy="choose another LUT: no simple correction mends this",
    ),
)
