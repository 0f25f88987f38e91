"""Real surface colours that lose their shape: where a channel ends, cloth and petals go flat."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.spaces.ranges import to_full

from .scene import surfaces
from .subject import Subject
from .values import Measured, Places

EDGE = 0.5 / 1023.0
"""Within half a 10-bit code of the end of the range a channel is clipped."""

SHADE = 1.0 / 6.0
"""Stops to either side: a fold in cloth, a vein in a petal."""
FLAT = 0.3
"""Share of the plain difference between two shades, in Oklab, below which they run into one."""


def clipped(subject: Subject, code: NDArray[Any], edge: float = EDGE) -> NDArray[np.bool_]:
    """Which output colours (..., 3) have a channel at the end of the output's range."""
    full = to_full(np.asarray(code, np.float64), subject.output.range)
    return np.asarray(((full <= edge) | (full >= 1.0 - edge)).any(axis=-1))


def clipping(subject: Subject) -> Measured:
    """Share of real surface colours whose shading is lost here and not in the plain rendering."""
    lost = {name: _flat(subject, scene) for name, scene in surfaces().items()}
    usual, edge = np.concatenate([lost["chart"], lost["samples"]]), lost["pointer"]
    return Measured(
        [
            Places(
                "flat_colours",
                np.array([100.0 * usual.mean()]),
                lambda i: f"{int(usual.sum())} of {len(usual)} measured surface colours go flat",
            ),
            Places(
                "flat_gamut",
                np.array([100.0 * edge.mean()]),
                lambda i: f"{int(edge.sum())} of {len(edge)} colours at the limit of real surfaces go flat",
            ),
        ]
    )


def _flat(subject: Subject, scene: Array) -> NDArray[np.bool_]:
    """(n,) where two shades of a colour are told apart plainly and not here."""
    code = subject.feed(scene * np.exp2(np.array([-SHADE, SHADE]))[:, None, None])
    apart = []
    for function in (subject.plain, subject.graded):
        dark, light = subject.oklab(function(code))
        apart.append(np.linalg.norm(light - dark, axis=-1))
    return np.asarray((apart[0] > 0.005) & (apart[1] < FLAT * apart[0]))
