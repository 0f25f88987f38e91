"""Where a step acts: how far it moves each pixel, and how much of each pixel a hue band or a hold takes."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000, light_to_lab
from lookwright.colour.spaces import hue_flow
from lookwright.colour.spaces.hue_flow import bump, colour_fade
from lookwright.colour.spaces.oklab import hue_and_saturation
from lookwright.errors import RecipeError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.way import before
from lookwright.look.steps.base import Step
from lookwright.look.steps.holds import NEAR_NEUTRAL, RANGES

BORDERS = (1.0, 3.0, 6.0, 12.0)
"""CIEDE2000 from which a pixel is in the next step of the map: 1 is about what is just seen (CIE 142-2001 speaks of
such small differences); the others are common practice, no source."""
WORDS = ("not seen", "just seen", "seen at once", "strong", "another colour")


def moved(before_light: Array, after_light: Array) -> Array:
    """(n,) CIEDE2000 between display light (n, 3), linear BT.2020."""
    return ciede2000(light_to_lab(before_light), light_to_lab(after_light))


def stepped(difference: Array) -> NDArray[np.intp]:
    """(n,) the step 0 to 4 of each difference."""
    return np.searchsorted(np.array(BORDERS), difference, side="right")


def held_by(look: Look, index: int, what: str, signal: Array) -> Array:
    """(n,) 0..1: how much of a band's effect source code values (n, 3) feel, or how much of a hold.

    Parameters
    ----------
    what
        ``band.N``, counted from 1, or the name of a held range (``skin``, ``sky``, ``leaves``).

    Raises
    ------
    RecipeError
        For a step that has none such, or is not in use.
    """
    step = look.steps[index]
    if not step.on:
        raise RecipeError(f"step {index + 1}", "is not in use", hint="take it into use to see what it holds")
    centre, width, near = _bell(step, index, what)
    x = before(look, index, signal)
    if step.domains()[0] != "opponent":
        raise RecipeError(f"step {index + 1} {step.kind!r}", "knows no bands of hue")
    hue, saturation = hue_and_saturation(x)
    return bump(hue, np.radians(centre), np.radians(width)) * colour_fade(saturation, near)


def _bell(step: Step, index: int, what: str) -> tuple[float, float, float]:
    """Middle and half width in degrees, and the saturation where the effect has half its strength."""
    where = f"step {index + 1} {step.kind!r}"
    if what in RANGES:
        if f"hold_{what}" not in type(step).model_fields:
            raise RecipeError(where, f"has no hold on {what}")
        return RANGES[what].hue, RANGES[what].width, NEAR_NEUTRAL
    bands: tuple[Any, ...] = getattr(step, "band", ())
    number = what.removeprefix("band.")
    if not number.isdecimal() or not 1 <= int(number) <= len(bands):
        raise RecipeError(where, f"has no {what[:20]!r}")
    band = bands[int(number) - 1]
    return band.centre, band.width, hue_flow.NEAR_NEUTRAL
