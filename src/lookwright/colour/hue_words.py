"""What people call a hue."""

from __future__ import annotations

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


def hue_word(degrees: float) -> str:
    """``orange`` for an Oklab hue of 52 degrees; any number of turns."""
    degrees %= 360.0
    return min(HUE_WORDS, key=lambda pair: abs(pair[0] - degrees))[1]
