"""Real surface colours that are driven into the end of a channel."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.colour.spaces.ranges import to_full

from .colours import surfaces
from .subject import Subject
from .values import Measured, Places

EDGE = 0.5 / 1023.0
"""Within half a 10-bit code of the end of the range a channel is clipped."""


def clipped(subject: Subject, code: NDArray[Any], edge: float = EDGE) -> NDArray[np.bool_]:
    """Which output colours (..., 3) have a channel at the end of the output's range."""
    full = to_full(np.asarray(code, np.float64), subject.output.range)
    return np.asarray(((full <= edge) | (full >= 1.0 - edge)).any(axis=-1))


def clipping(subject: Subject) -> Measured:
    """Share of real surface colours that clip here and not in the plain rendering."""
    newly = {}
    for name, scene in surfaces().items():
        code = subject.feed(scene)
        newly[name] = clipped(subject, subject.graded(code)) & ~clipped(subject, subject.plain(code))
    usual, edge = np.concatenate([newly["chart"], newly["samples"]]), newly["pointer"]
    shares = {name: np.array([100.0 * of.mean()]) for name, of in (("colours", usual), ("gamut", edge))}
    return Measured(
        [
            Places(
                "clipped_colours",
                shares["colours"],
                lambda i: f"{int(usual.sum())} of {len(usual)} measured surface colours clip",
            ),
            Places(
                "clipped_gamut",
                shares["gamut"],
                lambda i: f"{int(edge.sum())} of {len(edge)} colours at the limit of real surfaces clip",
            ),
        ]
    )
