"""A curve before the lattice, so that its points lie where the look bends and where pictures are.

A .cube spaces its points evenly over the signal. A CLF may put a 1D table (a shaper) before the lattice; one
curve for all three channels keeps grey on the lattice's diagonal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.lut.lattices.interpolate import linear, lookup
from lookwright.lut.lattices.lattice import Curves, Lattice, Progress
from lookwright.lut.lattices.samples import spread

from .appearance import ToLab, lab_of, of_look
from .fidelity import Report
from .judge import Judge, content
from .prior import Prior, draw, prior_of
from .refine import BOUND, Chosen, choose
from .shares import as_stills, shared
from .threads import in_turn

POINTS = 1024
"""Points of the shaper: readers interpolate it linearly, and the lattice is made for exactly that."""

_BINS = 64
_STEP = 1.0 / 64.0
"""Reach of the second differences: about half a cell of a 33 lattice, so that detail finer than a cell counts."""
_LOOKED_AT = 12_000
_CUBE, _STILLS = 0.2, 0.1
"""Shares of the whole cube and of the stills in where the points go; the rest is natural colours."""
_MOST_DENSE = 8.0
"""By how much a flat part of the curve may raise the weight of its colours."""
_EVEN = 0.35
"""Share of evenly spread points: no part of the signal is left with fewer than this."""


@dataclass(frozen=True, eq=False)
class ShapedLattice:
    """A LUT of two parts: input signal through ``shaper`` to 0..1, then through ``lattice``.

    ``shaper`` is rising, the same for all channels, from 0 to 1 over 0..1.
    """

    shaper: Curves
    lattice: Lattice

    def __call__(self, signal: ArrayLike, interpolation: str = "tetrahedral") -> Array:
        """(..., 3) input signal to (..., 3) output signal; input is clamped to 0..1, NaN refused."""
        return lookup(self.lattice, linear(self.shaper, signal), interpolation)


def unshaped(shaper: Curves, values: ArrayLike) -> Array:
    """The input signal that ``shaper`` turns into ``values`` (..., 3): its exact inverse, as it is piecewise linear."""
    at = np.linspace(shaper.domain_min[0], shaper.domain_max[0], shaper.size)
    return np.interp(np.asarray(values, dtype=np.float64), shaper.table[:, 0], at)


def behind(shaper: Curves, pipeline: Callable[[Array], Any]) -> Callable[[Array], Any]:
    """What the lattice behind ``shaper`` has to do: shaped signal to output signal."""
    return lambda values: pipeline(unshaped(shaper, values))


def fit_shaper(
    pipeline: Callable[[Array], Any],
    samples: ArrayLike | None = None,
    to_lab: ToLab | None = None,
    seed: int = 1,
    prior: Prior | None = None,
) -> Curves:
    """Choose the curve that spaces the points of a lattice for a look.

    Parameters
    ----------
    pipeline
        The look: (M, 3) input signal in 0..1 to (M, 3) output signal.
    samples
        (..., 3) input signal from the stills, of which nothing is kept for a report; None for the cube alone.
    to_lab
        Output signal to CIELAB; from ``pipeline.output`` when None.
    seed
        Shifts the colours of the cube.
    prior
        Weight of input colours; None: natural colours of ``pipeline.source``, all alike where it states none.

    Returns
    -------
    Curves of 1024 points over 0..1, rising from 0 to 1, the same in all channels, rounded to 6 decimals.

    Notes
    -----
    Linear pieces of length h err by about h^2 |f''| / 12 on average, so over a density p of colours the mean error
    for a given number of points is least when points are as dense as (p |f''|)^(1/3) (a textbook result of the
    calculus of variations, no single source). f'' is the second difference of CIELAB along each input axis.
    """
    to_lab = to_lab or lab_of(pipeline.output)  # type: ignore[attr-defined]
    stills = np.empty((0, 3)) if samples is None else np.asarray(samples, dtype=np.float64).reshape(-1, 3)
    # Evenly drawn from all of them, whatever their order.
    stills = np.clip(stills[:: max(1, len(stills) // _LOOKED_AT)], 0.0, 1.0)
    mass = _CUBE * _bends(pipeline, to_lab, spread(_LOOKED_AT, 3, seed))
    mass += (1.0 - _CUBE) * _bends(pipeline, to_lab, draw(prior or prior_of(pipeline), _LOOKED_AT, seed))
    if len(stills):
        mass = (1.0 - _STILLS) * mass + _STILLS * _bends(pipeline, to_lab, stills)
    density = np.cbrt(mass)
    # A little smoothing: neighbouring cells should not differ much in size.
    padded = np.pad(density, 3, mode="edge")
    kernel = np.array([1.0, 2.0, 3.0, 4.0, 3.0, 2.0, 1.0]) / 16.0
    density = sum(k * padded[i : i + _BINS] for i, k in enumerate(kernel))
    mean = float(density.mean())
    density = _EVEN + (1.0 - _EVEN) * density / mean if mean > 0.0 else np.ones(_BINS)
    at = np.arange(POINTS) / (POINTS - 1)
    centres = (np.arange(_BINS) + 0.5) / _BINS
    rate = np.interp(at, centres, density)
    curve = np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]))])
    curve = np.round(curve / curve[-1], 6)
    return Curves(np.repeat(curve[:, None], 3, axis=1), title="shaper")


def _bends(pipeline: Callable[[Array], Any], to_lab: ToLab, points: Array) -> Array:
    """(bins,) mean bend of the look by place on the input axes, times how many colours lie there."""
    middle = to_lab(np.asarray(pipeline(points), np.float64))
    mass = np.zeros(_BINS)
    for c in range(3):
        low, high = points.copy(), points.copy()
        # Inside 0..1 the difference is central; at the ends both sides are moved in.
        place = np.clip(points[:, c], _STEP, 1.0 - _STEP)
        low[:, c], high[:, c] = place - _STEP, place + _STEP
        centre = points.copy()
        centre[:, c] = place
        moved = place != points[:, c]
        here = middle.copy()
        if moved.any():
            here[moved] = to_lab(np.asarray(pipeline(centre[moved]), np.float64))
        second = to_lab(np.asarray(pipeline(low), np.float64)) - 2.0 * here
        second += to_lab(np.asarray(pipeline(high), np.float64))
        size = np.sqrt((second**2).sum(axis=1))
        bins = np.minimum((points[:, c] * _BINS).astype(np.intp), _BINS - 1)
        mass += np.bincount(bins, weights=size, minlength=_BINS)
    return mass / len(points)


def refine_shaped(
    pipeline: Callable[[Array], Any],
    size: int,
    samples: ArrayLike | None = None,
    seed: int = 1,
    progress: Progress | None = None,
    threads: int | None = None,
    bound: float = BOUND,
    to_lab: ToLab | None = None,
    ends: tuple[float, float] | None = None,
    title: str = "",
    prior: Prior | None = None,
) -> tuple[ShapedLattice, Chosen]:
    """:func:`fit_shaper`, then :func:`lookwright.lut.fit.refine.choose` behind it; parameters as there.

    The curve too is fitted without the pixels and stills kept for the report. Returns the two-part LUT, and what was
    chosen in the shaped signal; :func:`report_shaped` judges in the input signal.
    """
    to_lab, ends, title = of_look(pipeline, to_lab, ends, title)
    weight = prior or prior_of(pipeline)
    drawn = as_stills(samples)
    shaper = fit_shaper(pipeline, shared(drawn).fitted, to_lab, seed, weight)
    shaped = linear(shaper, drawn) if drawn.size else None
    look = behind(shaper, pipeline)
    inner = shaped_prior(shaper, weight)
    done = choose(look, size, shaped, seed, progress, threads, bound, to_lab, ends, title, inner)
    return ShapedLattice(shaper, done.lattice), done


def shaped_prior(shaper: Curves, prior: Prior) -> Prior:
    """The same colours, as often, in the shaped signal: where the curve is steep they lie further apart."""

    def weight(values: Array) -> Array:
        signal = unshaped(shaper, values)
        rate = np.diff(shaper.table[:, 0]) * (shaper.size - 1)
        piece = np.minimum((signal * (shaper.size - 1)).astype(np.intp), shaper.size - 2)
        return prior(signal) * np.minimum(1.0 / np.prod(rate[piece], axis=-1), _MOST_DENSE) / _MOST_DENSE

    return weight


def report_shaped(
    pipeline: Callable[[Array], Any],
    lut: ShapedLattice,
    samples: ArrayLike | None,
    cube: ArrayLike | None = None,
    to_lab: ToLab | None = None,
) -> Report:
    """:func:`lookwright.lut.fit.refine.report` of a two-part LUT, for colours of the input signal; all of ``samples``
    are given, and those kept for reports judged."""
    to_lab = to_lab or lab_of(pipeline.output)  # type: ignore[attr-defined]
    source = getattr(pipeline, "source", None)
    colours = None if cube is None else np.asarray(cube, dtype=np.float64).reshape(-1, 3)
    sets = content(as_stills(samples), None if source is None else prior_of(pipeline), colours)
    shaped = {name: linear(lut.shaper, points) for name, points in sets.items()}
    judge = Judge(behind(lut.shaper, pipeline), to_lab, shaped, in_turn)
    return judge.report(judge.differences(lut.lattice))
