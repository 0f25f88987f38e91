"""Colours at which lattices are judged, with what the look itself makes of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.lut.lattices.interpolate import INTERPOLATIONS, lookup
from lookwright.lut.lattices.lattice import CHUNK, Lattice

from .appearance import ToLab
from .threads import Run, parts_of
from .weights import both_weights

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
        self._at: _At | None = None
        parts = parts_of(len(points), CHUNK)
        self.wanted = np.concatenate(run(lambda part: to_lab(np.asarray(look(points[part]), np.float64)), parts))

    @property
    def count(self) -> int:
        """Number of colours."""
        return len(self.points)

    def part(self, chosen: slice | NDArray[np.bool_]) -> Content:
        """Some of the colours."""
        out = copy(self)
        out.points, out.wanted, out._at = self.points[chosen], self.wanted[chosen], None
        return out

    def differences(self, lattice: Lattice) -> Array:
        """(2, M) CIEDE2000 of the trilinear and the tetrahedral lookup."""

        at = self._places(lattice)
        nodes = lattice.table.reshape(-1, 3)

        def one(index: int) -> Array:
            wanted = self.wanted[at.parts[index]]
            found = at.shares[index] @ nodes
            return np.stack([ciede2000(wanted, self._to_lab(f)) for f in (found[: len(wanted)], found[len(wanted) :])])

        return np.concatenate(self._run(one, range(len(at.parts))), axis=1)

    def _places(self, lattice: Lattice) -> _At:
        """Where the colours lie in a lattice: found once, as most that are compared are of one size."""
        kind = (lattice.size, lattice.domain_min, lattice.domain_max)
        if self._at is None or self._at.kind != kind:
            low, high = np.array(lattice.domain_min), np.array(lattice.domain_max)
            parts = parts_of(len(self.points), CHUNK)

            def shares(part: slice) -> Any:
                return both_weights(lattice.size, (self.points[part] - low) / (high - low))

            self._at = _At(kind, parts, self._run(shares, parts))
        return self._at


@dataclass(frozen=True)
class _At:
    """The shares of lattice points in lookups of some colours, part by part."""

    kind: tuple[Any, ...]
    """Size and domain of the lattices they are for."""
    parts: Sequence[slice]
    shares: Sequence[Any]
    """Of each part: trilinear, and below them tetrahedral ones (:func:`both_weights`)."""


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
