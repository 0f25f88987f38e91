"""Colours at which lattices are judged, with what the look itself makes of them."""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.lut.lattices.interpolate import INTERPOLATIONS, lookup
from lookwright.lut.lattices.lattice import CHUNK, Lattice

from .appearance import ToLab
from .threads import Run, parts_of

LOOKUPS = ("trilinear", "tetrahedral")
_NOTHING = 0.002
"""CIEDE2000 added to both sides of a ratio: below it, what five decimals of a value make, there is nothing to win."""
_RAMPS, _STEPS, _LENGTH = 64, 97, 0.15
"""Ramps along which roughness is measured: their number, colours of each, and length to either side in signal."""

assert set(LOOKUPS) == set(INTERPOLATIONS)


class Content:
    """Colours, the CIELAB that the look gives them, and lattices compared with it.

    Parameters
    ----------
    look
        (M, 3) input signal to output signal.
    to_lab
        Output signal to CIELAB.
    points
        (M, 3) input signal.
    run
        How to spread work over threads.
    """

    def __init__(self, look: Callable[[Array], Any], to_lab: ToLab, points: Array, run: Run) -> None:
        self.points, self._to_lab, self._run = points, to_lab, run
        parts = parts_of(len(points), CHUNK)
        self.wanted = np.concatenate(run(lambda part: to_lab(np.asarray(look(points[part]), np.float64)), parts))

    @property
    def count(self) -> int:
        """Number of colours."""
        return len(self.points)

    def part(self, chosen: slice) -> Content:
        """Some of the colours."""
        out = copy(self)
        out.points, out.wanted = self.points[chosen], self.wanted[chosen]
        return out

    def differences(self, lattice: Lattice) -> Array:
        """(2, M) CIEDE2000 of the trilinear and the tetrahedral lookup."""

        def one(part: slice) -> Array:
            found = (lookup(lattice, self.points[part], name) for name in LOOKUPS)
            return np.stack([ciede2000(self.wanted[part], self._to_lab(f)) for f in found])

        return np.concatenate(self._run(one, parts_of(len(self.points), CHUNK)), axis=1)


def ratios(differences: Array, plain: Array) -> Array:
    """(4,) mean and 99th percentile of either lookup (2, M), each over that of plain sampling."""

    def figures(values: Array) -> Array:
        return np.concatenate([values.mean(axis=1), np.percentile(values, 99.0, axis=1)]) + _NOTHING

    return np.asarray(figures(differences) / figures(plain), np.float64)


def roughness(lattice: Lattice, to_lab: ToLab, centres: Array) -> Array:
    """(4,) root mean square and 99th percentile of second differences in CIELAB along ramps of light, for either
    lookup. Not the largest: that is one kink at the edge of the output's primaries, which no lattice follows.

    ``centres`` (M, 3): colours through which ramps run, all channels rising alike, which in a log signal is exposure.
    """
    along = np.linspace(-_LENGTH, _LENGTH, _STEPS)[:, None]
    ramps = np.clip(centres[: len(centres) // _RAMPS * _RAMPS : max(1, len(centres) // _RAMPS), None] + along, 0.0, 1.0)
    out = []
    for name in LOOKUPS:
        lab = to_lab(lookup(lattice, ramps.reshape(-1, 3), name)).reshape(ramps.shape)
        bend = np.linalg.norm(lab[:, 2:] - 2.0 * lab[:, 1:-1] + lab[:, :-2], axis=-1)
        out += [np.sqrt((bend**2).mean()), np.percentile(bend, 99.0)]
    return np.array(out)
