"""The way back as a lattice: exact at the points that a colour gives, fitted at all others.

Points that no source colour gives are corners of cells in which natural colours lie. Were they to hold the nearest
colour there is, those cells would err by dozens of codes; they are chosen so that colours sent through the look come
back, by smooth least squares, and may lie outside 0 to 1, where no colour is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.fit.lookups import Lookups
from lookwright.lut.fit.prior import draw, even, natural
from lookwright.lut.fit.solve import Fit
from lookwright.lut.fit.threads import Run, parts_of
from lookwright.lut.fit.weights import cell_of
from lookwright.lut.lattices.lattice import Lattice, grid

from .inverse import STEEPEST, Colours, Inverse

_NATURAL, _EVEN = 60_000, 40_000
"""Colours sent through, for 33 points on a side; up to three times as many for more."""
_SEED = 7
_POINTS = 0.5
"""Weight of the points that a colour gives, against 1 for the colours sent through: for the smoothness round them."""
_SMOOTH = 1e-3
"""As in the fit of a look's lattice (lut/fit/problem.py), a tenth of it: a way back bends more. 1e-2 gives natural
colours of two looks 3 % more error, 1e-4 throws points as far as -4 (measured)."""
_ITERATIONS = 20
"""Few: points that hardly any colour reaches are never settled, and conjugate gradients that go on over them turn the
last bit of a colour into the fourth decimal of a point (seen with 80: 3e-4 between two releases of numpy; with 20 the
same bytes, and natural colours no worse).
"""
_FARTHEST = 0.5
"""How far outside 0..1 a point may lie. Beyond, nothing is gained (measured)."""
_GREYS = 4_097


def lattice_of(forward: Colours, inverse: Inverse, source: Signal, size: int, run: Run) -> tuple[Lattice, float]:
    """The inverse on a lattice over the output signal, and the share of its points that one colour
    gives, told apart from its neighbours: there it is exact.

    Parameters
    ----------
    forward, inverse
        The look, (n, 3) code values to (n, 3) code values, and its way back.
    source
        What the look is fed: natural colours of it count most.
    size
        Points on each side.
    run
        How to spread work over threads; the result does not depend on it.

    Returns
    -------
    The lattice, values -0.5 to 1.5 rounded to 5 decimals, and the share, 0..1.
    """
    at = grid(size).reshape(-1, 3)
    back = inverse(at)
    values = _greys(forward, at)
    values[back.known] = back.source[back.known]
    more = min(3, max(1, round(((size - 1) / 32.0) ** 2)))
    colours = np.concatenate([draw(natural(source), more * _NATURAL, _SEED), draw(even, more * _EVEN, _SEED + 2)])
    codes, steep = _sent(forward, inverse, colours, run)
    use = inverse.inside(codes) & (steep < STEEPEST)
    # A steep way back is known less well from any graded picture: an error there counts as so much less.
    weight = _shares(_certainty(steep[use]))
    points = np.concatenate([codes[use], at[back.known]])
    wanted = np.concatenate([colours[use], back.source[back.known]])
    weight = np.concatenate([weight, _POINTS * _shares(_certainty(back.steep[back.known]))])
    moved = _solved(size, points, wanted, weight, values, ~back.known, run)
    table = np.asarray(np.round(np.clip(moved, -_FARTHEST, 1.0 + _FARTHEST), 5), np.float64)
    return Lattice(table.reshape(size, size, size, 3)), float(back.known.mean())


def _greys(forward: Colours, at: Array) -> Array:
    """What undoes the look on greys, channel by channel: where to begin."""
    grey = np.linspace(0.0, 1.0, _GREYS)
    out = np.maximum.accumulate(np.clip(forward(np.repeat(grey[:, None], 3, axis=1)), 0.0, 1.0).mean(axis=1))
    rises = np.concatenate([[True], np.diff(out) > 1e-7])
    return np.asarray(np.interp(at, out[rises], grey[rises]))


def _sent(forward: Colours, inverse: Inverse, colours: Array, run: Run) -> tuple[Array, Array]:
    """Colours through the look, and how steep the way back is from there."""
    parts = parts_of(len(colours))
    codes = run(lambda part: np.clip(forward(colours[part]), 0.0, 1.0), parts)
    return np.concatenate(codes), np.concatenate(run(lambda part: inverse.steepness(colours[part]), parts))


def _certainty(steep: Array) -> Array:
    """1 / ``steep`` in steps of half an octave: found by differences, it is not known to the last bit."""
    return np.asarray(2.0 ** (np.round(-2.0 * np.log2(steep)) / 2.0))


def _shares(weight: Array) -> Array:
    return weight / weight.sum() if len(weight) else weight


def _solved(
    size: int, points: Array, wanted: Array, weight: Array, values: Array, free: NDArray[np.bool_], run: Run
) -> Array:
    # Neighbours in the lattice become neighbours in memory.
    order = np.argsort(cell_of(size, points), kind="stable")
    points, wanted, weight = points[order], wanted[order], weight[order]
    alike = np.zeros((6, size**3))
    alike[:3] = 1.0
    fit = Fit(Lookups(size, points, run), alike, run)
    both = 0.5 * np.stack([weight, weight]) / max(float(weight.sum()), 1e-12)
    fit.stiffen(both, _SMOOTH * (size - 1) / 32.0)
    off = wanted - fit.looked_up(values)
    return values + fit.solve(off, both, np.zeros_like(values), np.repeat(free[:, None], 3, axis=1), _ITERATIONS)
