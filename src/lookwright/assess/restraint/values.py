"""What a measure hands over: values with where they were found, and curves to plot."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from lookwright.arrays import Array


@dataclass(frozen=True)
class Value:
    """One measured value."""

    measure: str
    """Its name in limits.py."""
    value: float
    found: str
    """What was found and where, as a clause without a full stop."""


@dataclass(frozen=True)
class Measured:
    """All values of one file of measures, and what its plots need."""

    values: list[Value]
    plots: dict[str, Any] = field(default_factory=dict)


def turn_degrees(before: Array, after: Array) -> Array:
    """Signed hue turn in degrees from Oklab ``before`` (..., 3) to ``after``, -180..180; + toward yellow from red."""
    a, b = np.arctan2(before[..., 2], before[..., 1]), np.arctan2(after[..., 2], after[..., 1])
    return (np.degrees(b - a) + 180.0) % 360.0 - 180.0


def chroma(lab: Array) -> Array:
    """Length of (a, b)."""
    return np.hypot(lab[..., 1], lab[..., 2])


def stops_words(stops: float) -> str:
    """``3.5 stops under grey``."""
    if abs(stops) < 0.05:
        return "at middle grey"
    return f"{abs(stops):.1f} stops {'over' if stops > 0 else 'under'} grey"


HUE_WORDS = (
    (0.0, "pink"),
    (25.0, "red"),
    (50.0, "orange"),
    (75.0, "amber"),
    (105.0, "yellow"),
    (135.0, "green"),
    (165.0, "green"),
    (195.0, "cyan"),
    (230.0, "sky blue"),
    (262.0, "blue"),
    (300.0, "violet"),
    (335.0, "magenta"),
    (360.0, "pink"),
)
"""Plain words for Oklab hues in degrees, the nearest counts. BT.709 red, green and blue lie at 29, 142 and 264
(computed); the words between are our choice."""


def hue_words(degrees: float) -> str:
    """``orange (Oklab hue 52)``."""
    degrees %= 360.0
    word = min(HUE_WORDS, key=lambda pair: abs(pair[0] - degrees))[1]
    return f"{word} (hue {degrees:.0f})"
