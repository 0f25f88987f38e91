"""Tint of greys against their level."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import WARM_AXIS_DEG
from lookwright.colour.difference import ciede2000

from .colours import greys, stops_range
from .subject import Subject
from .values import Measured, Value, hue_words, stops_words

STOPS = stops_range(-8.0, 6.0, 0.1)
CARD = 1.0
"""Stops about middle grey that count as the grey card."""
DEAD_BAND = 0.3
"""CIELAB units (a*, b*) below which a tint has no side: well under a just visible difference."""


def neutrals(subject: Subject) -> Measured:
    """Tint of greys beyond that of the plain rendering: its size, its swing, and how often it changes sides."""
    code = subject.feed(greys(STOPS))
    before, after = subject.lab(subject.plain(code)), subject.lab(subject.graded(code))
    tint = after[:, 1:] - before[:, 1:]
    # At the graded lightness: the difference between this grey and one without the tint.
    untinted = np.concatenate([after[:, :1], after[:, 1:] - tint], axis=-1)
    size = ciede2000(after, untinted)
    values = []
    near = np.abs(STOPS) <= CARD + 1e-9
    for name, member in (("grey_card_tint", near), ("grey_tint", np.ones_like(near))):
        i = int(np.argmax(np.where(member, size, -1.0)))
        values.append(Value(name, float(size[i]), f"tints greys {_toward(tint[i])} {stops_words(STOPS[i])}"))
    swing = np.hypot(*(tint[10:] - tint[:-10]).T)  # over one stop
    i = int(np.argmax(swing))
    values.append(
        Value("grey_swing", float(swing[i]), f"the tint of greys moves within a stop, {stops_words(STOPS[i] + 0.5)}")
    )
    axis = np.radians(WARM_AXIS_DEG)
    # Warm against cool, and across it, in CIELAB (its warm axis lies near Oklab's for small tints).
    along = tint @ np.array([np.cos(axis), np.sin(axis)])
    across = tint @ np.array([-np.sin(axis), np.cos(axis)])
    crossings = max(sign_changes(along), sign_changes(across))
    values.append(Value("grey_crossings", float(crossings), "the tint of greys changes sides along the scale"))
    return Measured(values, {"neutrals": {"stops": STOPS, "along": along, "across": across}})


def sign_changes(values: Array, dead_band: float = DEAD_BAND) -> int:
    """How often a curve changes sign, leaving out what stays within the dead band."""
    sides = np.sign(values[np.abs(values) > dead_band])
    return int(np.count_nonzero(np.diff(sides)))


def _toward(tint: Array) -> str:
    if np.hypot(*tint) < 1e-3:
        return "not at all"
    return "toward " + hue_words(float(np.degrees(np.arctan2(tint[1], tint[0]))))
