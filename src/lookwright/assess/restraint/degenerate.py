"""Tables that leave nothing to measure: one colour everywhere, or numbers of another scale."""

from __future__ import annotations

import numpy as np

from lookwright.errors import LookwrightError

from .colours import hues, stops_range
from .subject import Subject

STOPS = stops_range(-4.0, 2.0, 1.0)
SATURATION = np.array([0.0, 0.1])
HUES = np.arange(0.0, 360.0, 30.0)

LEAST_SPAN = 4.0 / 1023.0
"""Of all colours from four stops under middle grey to two above it, in every channel: one code of 8 bits."""

LARGEST = 20.0
"""Times the range. Whole-number codes written as they are run to 255, 1023 or 65535."""


def demand_colours(subject: Subject) -> None:
    """Raise :class:`LookwrightError` for a subject that gives one colour whatever it is fed, or that is not in 0..1.

    Every measure compares colours, so none has an answer for these; and the user's mistake is a plain one.
    """
    stops, saturation, hue = np.meshgrid(STOPS, SATURATION, HUES, indexing="ij")
    fed = subject.feed(hues(stops, saturation, hue)).reshape(-1, 3)
    with np.errstate(over="ignore", invalid="ignore"):
        made = np.asarray(subject.graded(fed), np.float64)
    low, high = float(made.min()), float(made.max())
    if max(-low, high) > LARGEST:
        raise LookwrightError(
            subject.name,
            f"gives values from {low:.4g} to {high:.4g}",
            "output from 0 to 1",
            "if its table was written in whole-number codes, divide it by the highest code",
        )
    held = np.clip(made, 0.0, 1.0)
    if (np.ptp(held, axis=0) >= LEAST_SPAN).any():
        return
    middle = np.median(held, axis=0)
    colour = "R {:.3f}, G {:.3f}, B {:.3f}".format(*middle)
    if (middle < LEAST_SPAN).all():
        colour = "black"
    elif (middle > 1.0 - LEAST_SPAN).all():
        colour = "white"
    raise LookwrightError(
        subject.name,
        f"gives the same colour everywhere ({colour}; its values run from {low:.4g} to {high:.4g})",
        "colours that can be told apart",
        "was it exported whole, and in values from 0 to 1?",
    )
