"""How much more noise the picture shows than plainly rendered."""

from __future__ import annotations

from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .colours import hues, stops_range
from .jacobian import HALF_CODE, gain, jacobian
from .subject import Subject
from .values import Measured, Places, hue_words, stops_words

STOPS = stops_range(-7.0, 3.0, 0.5)
SHADOWS = -3.0
"""Stops from which down noise is a matter of the shadows: a black cloth of 2 % lies there in full light."""
HUES = np.array([0.0, 45.0, 90.0, 150.0, 210.0, 260.0, 310.0])
SATURATION = np.array([0.0, 0.07])

FLOOR = 1.0
"""Output codes per source code below which the plain gain does not count as less: a code of noise that becomes a code
is no more than was recorded. The toe of the plain rendering leaves half a code of ACEScct five stops under grey and a
tenth at seven; ratios to that would make a scandal of every print, whose shadows are more open (our choice)."""


@lru_cache(maxsize=1)
def _scene() -> tuple[Array, Array, Array, Array]:
    """Stops, saturation and hue (n,) of the colours looked at, and their light (n, 3)."""
    stops, saturation, hue = (a.ravel() for a in np.meshgrid(STOPS, SATURATION, HUES, indexing="ij"))
    apart = (saturation > 0.0) | (hue == HUES[0])  # greys do not differ by hue
    stops, saturation, hue = stops[apart], saturation[apart], hue[apart]
    return stops, saturation, hue, hues(stops, saturation, hue)


def noise(subject: Subject) -> Measured:
    """Largest singular value of the Jacobian in code values, as a ratio to the plain rendering's."""
    stops, saturation, hue, scene = _scene()
    # With room for half a code to either side.
    code = np.clip(subject.feed(scene), HALF_CODE, 1.0 - HALF_CODE)
    before = subject.once("noise", lambda: gain(jacobian(subject.plain, code)))
    after = gain(jacobian(subject.graded, code))
    ratio = after / np.maximum(before, FLOOR)

    def words(member: NDArray[np.bool_], index: int) -> str:
        i = np.flatnonzero(member)[index]
        kind = "greys" if saturation[i] == 0 else hue_words(float(hue[i]))
        return (
            f"one 10-bit code of noise in {kind} {stops_words(float(stops[i]))} becomes "
            f"{after[i]:.1f} codes, plainly {before[i]:.1f}"
        )

    places = [
        Places(name, ratio[member], partial(words, member), scene[member])
        for name, member in (("noise", stops > SHADOWS), ("shadow_noise", stops <= SHADOWS))
    ]
    grey = saturation == 0.0
    plots = {
        "stops": STOPS,
        "greys": ratio[grey],
        "worst": ratio.reshape(len(STOPS), -1).max(axis=1),
        "codes": after[grey],
        "codes_plain": before[grey],
    }
    return Measured(places, {"noise": plots})
