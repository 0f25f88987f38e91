"""How much more noise the picture shows than plainly rendered."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

from .colours import hues, stops_range
from .jacobian import HALF_CODE, gain, jacobian
from .subject import Subject
from .values import Measured, Value, hue_words, stops_words

STOPS = stops_range(-7.0, 3.0, 0.5)
SHADOWS = -3.0
"""Stops from which down noise is a matter of the shadows: a black cloth of 2 % lies there in full light."""
HUES = np.array([0.0, 45.0, 90.0, 150.0, 210.0, 260.0, 310.0])
SATURATION = np.array([0.0, 0.07])

FLOOR = 0.05
"""Output codes per source code below which the plain gain does not count as less: where the plain rendering is itself
flat, a ratio to it would make a scandal of nothing."""


def disturbed(subject: Subject) -> tuple[Array, Array, Array, Array]:
    """Stops, saturation and hue of the colours looked at, and their code values with room for half a code beside."""
    stops, saturation, hue = np.meshgrid(STOPS, SATURATION, HUES, indexing="ij")
    code = np.clip(subject.feed(hues(stops, saturation, hue)), HALF_CODE, 1.0 - HALF_CODE)
    return stops, saturation, hue, code


def noise(subject: Subject) -> Measured:
    """Largest singular value of the Jacobian in code values, as a ratio to the plain rendering's."""
    stops, saturation, hue, code = disturbed(subject)
    before = gain(jacobian(subject.plain, code))
    after = gain(jacobian(subject.graded, code))
    ratio = after / np.maximum(before, FLOOR)
    values = []
    for name, member in (("noise", stops > SHADOWS), ("shadow_noise", stops <= SHADOWS)):
        where = np.unravel_index(int(np.argmax(np.where(member, ratio, -1.0))), ratio.shape)
        kind = "greys" if saturation[where] == 0 else hue_words(float(hue[where]))
        values.append(
            Value(
                name,
                float(ratio[where]),
                f"one 10-bit code of noise in {kind} {stops_words(float(stops[where]))} becomes "
                f"{after[where]:.1f} codes, plainly {before[where]:.1f}",
            )
        )
    plots = {
        "stops": STOPS,
        "greys": ratio[:, 0, 0],
        "worst": ratio.reshape(len(STOPS), -1).max(axis=1),
        "codes": after[:, 0, 0],
        "codes_plain": before[:, 0, 0],
    }
    return Measured(values, {"noise": plots})
