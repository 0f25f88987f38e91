"""What a measure hands over: its values place by place with their signs, and curves to plot."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.hue_words import hue_word

from .limits import BY_NAME

if TYPE_CHECKING:
    from .subject import Subject


NOTHING = "nothing here that could be judged"


@dataclass(frozen=True)
class Value:
    """The worst of one measure."""

    measure: str
    """Its name in limits/."""
    value: float
    found: str
    """What was found and where, as a clause without a full stop."""


@dataclass(frozen=True)
class Places:
    """One measure place by place: what the worst case, its harm and the barriers of tuning are all read from.

    A size with a corner at nothing (a turn of hue either way) is given as two places, one for each side, so that every
    value runs smoothly through its ideal; the worst of both is the size.
    """

    measure: str
    """Its name in limits/."""
    values: Array
    """(n,) in the measure's unit, on the harmful or the better side of its ideal; NaN where there is nothing to judge.
    Neighbours in the array are neighbours in colour."""
    words: Callable[[int], str]
    """What was found at one place, as a clause without a full stop."""
    at: Array | None = None
    """(m, 3) scene light of the places, place ``i`` at ``i % m``, for pointing into pictures; None where a measure has
    no place in colour. NaN rows where there is nothing."""

    def worst(self) -> Value:
        """The most harmful place; the ideal where there is nothing to judge at all."""
        measure = BY_NAME[self.measure]
        judged = np.where(np.isnan(self.values), -np.inf, measure.side * self.values)
        i = int(np.argmax(judged))
        if judged[i] == -np.inf:
            return Value(self.measure, measure.ideal, NOTHING)
        return Value(self.measure, float(self.values[i]), self.words(i))


@dataclass(frozen=True)
class Measured:
    """All measures of one file, and what its plots need."""

    places: list[Places]
    plots: dict[str, Any] = field(default_factory=dict)
    again: Callable[[Subject], Measured] | None = None
    """The same where it was worst alone, for trying parameters quickly; None where measuring everywhere is quick."""
    alone: Mapping[str, Callable[[Subject], Measured]] = field(default_factory=dict)
    """By the name of a measure, where it can be had without the others: likewise."""

    @cached_property
    def values(self) -> list[Value]:
        """The worst of each."""
        return [p.worst() for p in self.places]


def both_ways(values: Array) -> Array:
    """(2n,) of (n,) deviations from an ideal of 0: each on its one side and on the other."""
    return np.concatenate([values, -values])


def turn_degrees(before: Array, after: Array) -> Array:
    """Signed hue turn in degrees from Oklab ``before`` (..., 3) to ``after``, -180..180; + toward yellow from red."""
    a, b = np.arctan2(before[..., 2], before[..., 1]), np.arctan2(after[..., 2], after[..., 1])
    return (np.degrees(b - a) + 180.0) % 360.0 - 180.0


UNSEEN = 0.005
"""Oklab distance under which a difference is not seen: half of what is just told apart side by side, about a unit of
CIELAB (L of Oklab runs to 1 where L* runs to 100; rule of thumb, no source)."""


def seen_turn(before: Array, after: Array) -> Array:
    """:func:`turn_degrees`, less where it is not seen for want of colour: in proportion to the distance that it makes,
    up to :data:`UNSEEN`."""
    turn = turn_degrees(before, after)
    apart = 2.0 * np.sqrt(chroma(before) * chroma(after)) * np.abs(np.sin(np.radians(0.5 * turn)))
    return np.asarray(turn * np.minimum(1.0, apart / UNSEEN))


def chroma(lab: Array) -> Array:
    """Length of (a, b)."""
    return np.hypot(lab[..., 1], lab[..., 2])


def saturation_factor(before: Array, after: Array) -> Array:
    """What becomes of chroma over lightness between Oklab colours, so that darker is not read as more colour."""
    s0, s1 = (chroma(lab) / np.maximum(lab[..., 0], 1e-3) for lab in (before, after))
    return np.asarray(s1 / np.maximum(s0, 1e-6))


def stops_words(stops: float) -> str:
    """``3.5 stops under grey``."""
    if abs(stops) < 0.05:
        return "at middle grey"
    return f"{abs(stops):.1f} stops {'over' if stops > 0 else 'under'} grey"


def hue_words(degrees: float) -> str:
    """``orange (Oklab hue 52)``."""
    return f"{hue_word(degrees)} (hue {degrees % 360.0:.0f})"
