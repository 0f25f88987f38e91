"""How smooth a learnt map must be: what predicts stills and colours that were left out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .bins import Binned, farthest
from .spline import Fit, Spline, features

KNOTS = 1200
"""Most knots of the fit: half a second of solving."""
TRIAL_KNOTS = 350
"""Knots while smoothings are compared."""
TRIED = {3: tuple(10.0**-e for e in range(4, 11)), 1: (1e-4,)}
"""Powers of the distance, and with each the smoothings that are tried, strongest first."""
CELLS = 6000
"""Most cells of the fit; pictures have fewer."""
TRIAL_CELLS = 2000
"""Cells that smoothings are compared on."""
BETTER = 0.99
"""Factor by which a weaker smoothing must err less to be taken: no tie is left to the last digit."""
BLOCK = 16
"""Blocks of colour, 1/16 of signal wide, are left out together, a third of them at a time."""


@dataclass(frozen=True)
class Chosen:
    """The kernel and smoothing that predicted best."""

    power: int
    smoothing: float
    error: float
    """Mean difference of signal on what was left out."""


def groups(cells: Binned) -> list[NDArray[np.bool_]]:
    """What is left out in turn: every still, and every third block of colour."""
    stills = np.unique(cells.still)
    out = [cells.still == s for s in stills] if len(stills) > 1 else []
    # Mixed so that neighbouring blocks fall into different thirds.
    third = (np.floor(cells.made * BLOCK).astype(np.int64) @ np.array([1, 2, 1])) % 3
    out += [third == k for k in range(3)]
    return [g for g in out if g.any() and (~g).sum() > 10]


def chosen(cells: Binned) -> Chosen:
    """The kernel and smoothing by cross-validation."""
    errors: dict[tuple[int, float], list[float]] = {}
    cells = cells.thinned(TRIAL_CELLS)
    left_out = groups(cells)
    for out in left_out:
        kept = ~out
        knots = cells.made[kept][farthest(cells.made[kept], TRIAL_KNOTS)]
        for power, smoothings in TRIED.items():
            fit = Fit(cells.made[kept], cells.weight[kept], knots, power)
            shares = features(cells.made[out], knots, power)
            for smoothing in smoothings:
                found = shares @ fit.solve(cells.moved[kept], smoothing).coefficients
                error = _error(found - cells.moved[out], cells.weight[out])
                errors.setdefault((power, smoothing), []).append(error)
    best, least = (3, TRIED[3][0]), np.inf
    for how, each in errors.items():
        # The geometric mean: a still that is hard to predict counts no more than an easy one.
        error = float(np.exp(np.mean(np.log(np.maximum(each, 1e-9)))))
        if error < BETTER * least:
            best, least = how, error
    return Chosen(*best, least)


def _error(off: Array, weight: Array) -> float:
    """Mean distance, not its square: a few colours far from all others must not decide."""
    return float((weight * np.sqrt((off**2).sum(axis=1))).sum() / weight.sum())


def fitted(cells: Binned, how: Chosen) -> Spline:
    """The spline through the cells."""
    cells = cells.thinned(CELLS)
    knots = cells.made[farthest(cells.made, KNOTS)]
    return Fit(cells.made, cells.weight, knots, how.power).solve(cells.moved, how.smoothing)
