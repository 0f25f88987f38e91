"""How sharply gradients may bend."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "roughness",
        "sharpest bend of a gradient",
        "CIELAB",
        ideal=0.0,
        watch=0.6,
        fail=1.2,
        reason="A change of slope of one just visible step (about 1 CIELAB unit) per step of a ramp shows as an "
        "edge; a smooth look in a lattice of 33 points stays below 0.3 (measured)",
        remedy="choose a LUT with more points, or a smoother one",
    ),
)
