"""Contrast about a pivot, in stops of light, per channel or on luminance."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.primaries import primaries

from .base import Context, Domain, Op, Step, in_stops
from .params import Param

FLOOR = 0.18 * 2.0**-11
"""Light 11 stops under grey. Below it the gain levels off, so that noise about black is scaled by one factor."""


def bend(stops: Array, slope: float, toe: float, shoulder: float) -> Array:
    """Stops from the pivot after the contrast.

    f(x) = x + (slope - 1) h(x), with h(x) = x / sqrt(1 + (k x)^2), where k = toe / 2 below the pivot
    and shoulder / 2 above. h(0) = 0 and h'(0) = 1, so the pivot stays and the slope there is exact;
    since 0 < h' <= 1 the curve rises everywhere for every slope > 0. h levels off at 1/k stops: all the
    contrast that will be added has been added by then.
    """
    k = np.where(stops < 0.0, 0.5 * toe, 0.5 * shoulder)
    return stops + (slope - 1.0) * stops / np.sqrt(1.0 + (k * stops) ** 2)


def stops_from(light: Array, pivot: float) -> Array:
    """Stops of ``light`` (any sign) from ``pivot``: 0 and slope 1 exactly at the pivot, levelling off below FLOOR."""
    reach = pivot * pivot + FLOOR * FLOOR
    return (0.5 * reach / (pivot * pivot)) * np.log2((light * light + FLOOR * FLOOR) / reach)


def pivot_stops(help: str, source: str = "") -> Any:
    """The declaration that contrast and print have: how far over grey the scale turns."""
    return Param(
        0.0,
        low=-2.0,
        high=3.0,
        neutral=None,
        unit="stops",
        soft=(0.0, 2.0),
        tunable=False,
        help=help,
        source=source,
    )


class Contrast(Step):
    """Steeper or flatter about a pivot that does not move.

    A gain on light that depends on its stops from the pivot. On the code values of a log curve with a straight
    toe the same slope would push deep shadows below zero light, where they clip; as a gain, black stays black.
    """

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "scene"
    summary: ClassVar[str] = "steeper or flatter about a pivot, with a softened toe and shoulder"

    kind: Literal["contrast"] = "contrast"
    slope: float = Param(
        1.0,
        low=0.4,
        high=2.5,
        neutral=1.0,
        soft=(0.8, 1.4),
        scale="log",
        help="slope at the pivot, log against log",
        acts_on="slope",
        main=True,
    )
    pivot: float = Param(
        0.18,
        low=0.01,
        high=1.0,
        neutral=None,
        unit="reflectance",
        soft=(0.08, 0.4),
        scale="log",
        help="scene light that keeps its level",
        main=True,
    )
    pivot_stops: float = pivot_stops(
        "stops by which the pivot lies over that: 1.4 keeps lit faces, which lie 1.1 to 1.7 over grey",
        "measured on faces of the sample stills",
    )
    toe: float = Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=None,
        soft=(0.0, 0.8),
        help="how soon the contrast eases off in the dark; 0 never",
        main=True,
    )
    shoulder: float = Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=None,
        soft=(0.0, 0.8),
        help="how soon it eases off in the light; 0 never",
        main=True,
    )
    luminance: float = Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=None,
        help="0 bends each channel (colours gain with contrast), 1 bends luminance only (colours keep)",
    )

    @property
    def level(self) -> float:
        """Scene light that keeps its level, as reflectance."""
        return float(self.pivot * 2.0**self.pivot_stops)

    def prepare(self, context: Context) -> Op:
        weights, level = primaries("ACEScg").luminance, self.level

        def added(light: Array) -> Array:
            stops = stops_from(light, level)
            return bend(stops, self.slope, self.toe, self.shoulder) - stops

        def apply(x: Array) -> Array:
            if self.luminance == 0.0:
                return x * np.exp2(added(x))
            # One gain for all channels keeps their ratios, hence hue and saturation.
            together = added(x @ weights)[..., None]
            if self.luminance == 1.0:
                return x * np.exp2(together)
            return x * np.exp2((1.0 - self.luminance) * added(x) + self.luminance * together)

        return Op("contrast", apply)

    def in_words(self) -> str:
        if self.slope == 1.0:
            return "leaves the contrast as it is"
        how = "steepens" if self.slope > 1 else "flattens"
        eased = [n for n, v in (("toe", self.toe), ("shoulder", self.shoulder)) if v > 0]
        text = f"{how} the scale to slope {self.slope:g} about {self.pivot * 100:g} % reflectance"
        if self.pivot_stops:
            text += f" {in_stops(self.pivot_stops, '+')}"
        if eased:
            text += ", easing off in the " + " and ".join(eased)
        if self.luminance > 0:
            text += f", {self.luminance * 100:.0f} % of it on luminance only"
        return text
