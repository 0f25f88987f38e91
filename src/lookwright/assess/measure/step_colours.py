"""Colours for levels in steps: told apart by hue, by lightness alone, and by people with colour-vision deficiency.

A helix round the grey axis by Green's formula, whose lightness rises all the way. Its four numbers and its ends were
searched so that the least difference of neighbours among eleven steps, for normal sight and for protan, deutan and
tritan viewers (Machado, Oliveira and Fernandes 2009, full severity), is large: CIEDE2000 of 14.8, 8.7, 8.7 and 10.5,
lightness rising by 6.2 a step or more. Turns that put green on 40 % or pink on 55 % were left out of the search. Fewer
steps take some of these (tests/units/test_stepped_map.py).
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

MOST_STEPS = 11
"""More could not be told apart by all."""

START, TURNS, SATURATION, GAMMA = 1.27247, 1.92973, 0.97216, 1.10467
FIRST, LAST = 0.01186, 0.99898
"""Where along the helix the first and the last colour stand."""

_ACROSS = np.array([[-0.14861, 1.78277], [-0.29227, -0.90649], [1.97294, 0.0]])


def helix(place: Array) -> Array:
    """(..., 3) sRGB code values 0..1 at ``place`` (...,) of 0 (black) to 1 (white).

    Green 2011, "A colour scheme for the display of astronomical intensity images", Bulletin of the Astronomical
    Society of India 39:289, equation 2.
    """
    t = np.asarray(place, np.float64)
    light = t**GAMMA
    angle = 2.0 * np.pi * (START / 3.0 + TURNS * t)
    reach = SATURATION * light * (1.0 - light) / 2.0
    turned = np.stack([np.cos(angle), np.sin(angle)], axis=-1) @ _ACROSS.T
    return np.clip(light[..., None] + reach[..., None] * turned, 0.0, 1.0)


def step_colours(count: int) -> Array:
    """(count, 3) sRGB code values from dark to light, for 2 to :data:`MOST_STEPS` steps; ``ValueError`` otherwise."""
    if not 2 <= count <= MOST_STEPS:
        raise ValueError(f"{count} steps: 2 to {MOST_STEPS} can be told apart")
    # Fewer steps take some of the eleven, so that they lie at least as far apart.
    chosen = np.rint(np.linspace(0, MOST_STEPS - 1, count)).astype(int)
    return helix(np.linspace(FIRST, LAST, MOST_STEPS))[chosen]
