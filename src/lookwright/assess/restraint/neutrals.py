"""Tint of greys against their level."""

from __future__ import annotations

from functools import partial

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import WARM_AXIS_DEG
from lookwright.colour.difference import ciede2000

from .colours import greys, stops_range
from .subject import Subject
from .values import Measured, Places, hue_words, stops_words

STOPS = stops_range(-8.0, 6.0, 0.1)
CARD = 1.0
"""Stops about middle grey that count as the grey card."""
DEAD_BAND = 0.3
"""CIELAB units (a*, b*) below which a tint has no side: well under a just visible difference."""


TURNS = np.radians(np.arange(0.0, 360.0, 45.0))
"""Directions along which a tint is read, besides its own: its size has a corner where there is none, these do not."""
SMALL = 0.5
"""CIELAB units under which the tint itself is too small to learn from it what one is in CIEDE2000 about this grey; so
much in its direction is used."""


def neutrals(subject: Subject) -> Measured:
    """Tint of greys beyond that of the plain rendering: its size, its swing, and how often it changes sides."""
    code = subject.feed(greys(STOPS))
    before, after = subject.lab(subject.plain(code)), subject.lab(subject.graded(code))
    tint = after[:, 1:] - before[:, 1:]
    size = _along(tint) * _ciede2000_per_unit(after, tint)
    places = []
    for name, member in (("grey_card_tint", np.abs(STOPS) <= CARD + 1e-9), ("grey_tint", np.ones(len(STOPS), bool))):
        places.append(
            Places(
                name, size[:, member].ravel(), partial(_tint_words, tint[member], STOPS[member]), greys(STOPS[member])
            )
        )
    swing = tint[10:] - tint[:-10]  # over one stop
    places.append(Places("grey_swing", _along(swing).ravel(), _swing_words, greys(STOPS[10:] - 0.5)))
    axis = np.radians(WARM_AXIS_DEG)
    # Warm against cool, and across it, in CIELAB (its warm axis lies near Oklab's for small tints).
    along = tint @ np.array([np.cos(axis), np.sin(axis)])
    across = tint @ np.array([-np.sin(axis), np.cos(axis)])
    crossings = max(sign_changes(along), sign_changes(across))
    words = "the tint of greys changes sides along the scale"
    places.append(Places("grey_crossings", np.array([float(crossings)]), lambda i: words))
    return Measured(places, {"neutrals": {"stops": STOPS, "along": along, "across": across}})


def _along(tint: Array) -> Array:
    """(9, n) of tints (n, 2): their size, which is the worst, then their part along each of :data:`TURNS`."""
    return np.concatenate([np.linalg.norm(tint, axis=1)[None], np.stack([np.cos(TURNS), np.sin(TURNS)], 1) @ tint.T])


def _ciede2000_per_unit(lab: Array, tint: Array) -> Array:
    """(n,) CIEDE2000 between greys ``lab`` (n, 3) and the same without their tints (n, 2), for one CIELAB unit."""
    untinted = np.concatenate([lab[:, :1], lab[:, 1:] - tint], axis=-1)
    size = np.linalg.norm(tint, axis=1, keepdims=True)
    way = np.where(size > 1e-6, tint / np.maximum(size, 1e-12), [1.0, 0.0]) * np.maximum(size, SMALL)
    tinted = np.concatenate([lab[:, :1], untinted[:, 1:] + way], axis=-1)
    return ciede2000(tinted, untinted) / np.linalg.norm(way, axis=1)


def _tint_words(tint: Array, stops: Array, index: int) -> str:
    i = index % len(stops)
    return f"tints greys {_toward(tint[i])} {stops_words(stops[i])}"


def _swing_words(index: int) -> str:
    return f"the tint of greys moves within a stop, {stops_words(STOPS[index % (len(STOPS) - 10)] + 0.5)}"


def sign_changes(values: Array, dead_band: float = DEAD_BAND) -> int:
    """How often a curve changes sign, leaving out what stays within the dead band."""
    sides = np.sign(values[np.abs(values) > dead_band])
    return int(np.count_nonzero(np.diff(sides)))


def _toward(tint: Array) -> str:
    if np.hypot(*tint) < 1e-3:
        return "not at all"
    return "toward " + hue_words(float(np.degrees(np.arctan2(tint[1], tint[0]))))
