"""Which colours a look keeps apart, so that it can be undone, and what happens to the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.fit.prior import draw, even, natural
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice

from .inverse import Colours, Inverse

Mask = NDArray[np.bool_]
_DRAWN = 4_000
SAME = 0.5 / 1023.0
"""Difference of source code values under which a colour came back: half a code of 10 bits."""


@dataclass(frozen=True)
class Volume:
    """Shares, 0..1, of colours sent through the look and back."""

    cube: float
    """Of the whole source cube that comes back to half a 10-bit code."""
    natural: float
    """The same of natural colours."""
    clipped: float
    """Of natural colours that end on black or peak in a channel."""
    pressed: float
    """Of natural colours that are pressed too close together, though not clipped."""
    double: float
    """Of natural colours that share their output with another colour: the look folds there."""
    lattice_mean: float
    """Error of the inverse lattice on natural colours that can be undone, in 10-bit codes of the source: mean."""
    lattice_p99: float
    again_mean: float
    """Of those colours: what the look makes of what the inverse lattice gives, against what it made of the colour, in
    10-bit codes of the output: mean."""
    again_p99: float
    nodes: float
    """Of the lattice's points that one source colour gives, told apart from its neighbours; exact there to 1e-4."""


def volume_of(forward: Colours, inverse: Inverse, source: Signal, lattice: Lattice, nodes: float) -> Volume:
    """Measure by sending colours through and back."""
    whole, known = draw(even, _DRAWN, 61), draw(natural(source), _DRAWN, 62)

    def came_back(x: Array) -> tuple[Array, Mask, Mask, Mask]:
        y = np.clip(forward(x), 0.0, 1.0)
        back = inverse(y)
        same: Mask = np.abs(back.source - x).max(axis=1) <= SAME
        clipped = ~inverse.inside(y)
        return y, back.known & same, clipped, back.known & ~same

    _, cube, _, _ = came_back(whole)
    y, good, clipped, double = came_back(known)
    through = lookup(lattice, y[good], "tetrahedral")
    off = _codes(through - known[good])
    again = _codes(np.clip(forward(np.clip(through, 0.0, 1.0)), 0.0, 1.0) - y[good])
    pressed = ~good & ~clipped & ~double
    return Volume(
        float(cube.mean()),
        float(good.mean()),
        float(clipped.mean()),
        float(pressed.mean()),
        float(double.mean()),
        float(off.mean()),
        float(np.percentile(off, 99)),
        float(again.mean()),
        float(np.percentile(again, 99)),
        nodes,
    )


def _codes(difference: Array) -> Array:
    """Largest of the channels in 10-bit codes; one 0 for no colours."""
    return np.abs(difference).max(axis=1) * 1023.0 if len(difference) else np.zeros(1)
