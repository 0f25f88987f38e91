"""What tints of tones have in common: neutral ends of the scale, and a grey card that can be spared."""

from __future__ import annotations

from typing import Any

import numpy as np

from lookwright.arrays import Array

from .base import smoothstep
from .params import Param

CARD_STOPS = 1.0
"""To either side of middle grey, where a tint that spares the card has come back by half (our choice: a card lit half
a stop off still shows a sixth of the tint at most)."""


def spare_grey() -> Any:
    """The declaration of ``spare_grey``, the same in every step that tints greys."""
    return Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=None,
        help="how far tints go to nothing at middle grey, where a grey card lies, and come back to either side",
    )


def between_the_ends(stops: Array) -> Array:
    """1 in the picture, 0 in deep black (from 5 to 9 stops under grey) and bright white (from 2.5 to 5.5 over)."""
    return smoothstep((stops + 9.0) / 4.0) * smoothstep((5.5 - stops) / 3.0)


def grey_spared(stops: Array, amount: float) -> Array:
    """What is left of a tint at ``stops`` from grey: 1 - amount at grey, 1 far from it; smooth."""
    if not amount:
        return np.ones_like(stops)
    return 1.0 - amount * np.exp2(-((stops / CARD_STOPS) ** 2))
