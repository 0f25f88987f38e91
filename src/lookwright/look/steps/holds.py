"""Colours that steps leave alone: skin, sky and leaves, each a measured range of hues, declared once for all steps.

A hold lessens what a step does to the hues of its range. How much of it the hues feel is a smooth bell on the hue
circle, half gone ``width`` degrees from the middle: with anything narrower than 24 degrees a seam shows between held
skin and the wood beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.hue_flow import bump

from .params import Param


@dataclass(frozen=True)
class HeldRange:
    """A range of hues that may be held; angles are Oklab hues in degrees, of light as the camera is balanced to it."""

    words: str
    hue: float
    width: float
    """To either side, where the hold has halved."""
    measured: tuple[float, float]
    """Where measured colours of this kind lie."""
    source: str


RANGES = {
    "skin": HeldRange(
        "skin",
        45.0,
        24.0,
        (26.0, 60.0),
        "skin of 17 people (NIST, J. Res. NIST 122:26), chart patches (ISO 17321-1) and CIE 224:2017 samples under "
        "daylight 36 to 60, under lamps of 3200 K 26 to 49",
    ),
    "sky": HeldRange(
        "sky",
        259.0,
        24.0,
        (253.0, 263.0),
        "CIE daylight of 7500 to 25000 K seen by a camera balanced to 5600 K or D65: 260 to 263; the chart's patch "
        "'blue sky' (ISO 17321-1): 253",
    ),
    "leaves": HeldRange(
        "leaves",
        121.0,
        24.0,
        (111.0, 129.0),
        "the chart's patches 'foliage' and 'yellow green' (ISO 17321-1): 129 and 121; samples of CIE 224:2017 whose "
        "reflectance rises past 680 nm as chlorophyll's does: 111 to 128",
    ),
}
"""Tests compute each range anew from its sources (tests/published/test_held_ranges.py)."""

NEAR_NEUTRAL = 0.03
"""Saturation at which a hold on saturation has half its strength. Skin has 0.05 to 0.13; the effect it lessens goes to
nothing with saturation by itself, so it may come in sooner than effects that turn hues."""


def hold(name: str) -> Any:
    """The declaration of ``hold_<name>``, the same in every step that has it."""
    held = RANGES[name]
    return Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=None,
        tunable=False,
        help=f"how far {held.words} is left out of this step: hues round {held.hue:g} deg, half at {held.width:g} deg "
        "to either side; 1 wholly",
        source=held.source,
    )


Bells = tuple[tuple[float, float, float], ...]
"""(amount, middle, half width), both angles in radians, of each hold that holds."""


def bells(step: Any) -> Bells:
    """The holds of a step that has them, but those at 0."""
    amounts = [(getattr(step, f"hold_{name}"), r) for name, r in RANGES.items()]
    return tuple((a, float(np.radians(r.hue)), float(np.radians(r.width))) for a, r in amounts if a)


def left_free(hue: Array, held: Bells | Sequence[tuple[float, float, float]], share: Array | float = 1.0) -> Array:
    """What is left of an effect, 0..1, at hues (radians); ``share`` of each hold is felt, 0..1."""
    free = np.ones_like(hue)
    for amount, middle, half in held:
        free = free * (1.0 - amount * bump(hue, middle, half) * share)
    return free


def in_words(step: Any) -> str:
    """``, holding 60 % of skin and 30 % of sky``, or nothing."""
    parts = [f"{a * 100:.0f} % of {r.words}" for n, r in RANGES.items() if (a := getattr(step, f"hold_{n}"))]
    return ", holding " + " and ".join(parts) if parts else ""
