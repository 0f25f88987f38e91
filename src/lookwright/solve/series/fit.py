"""The difference between two frames from the surfaces both show: robust, with a vignette a lens, and its own error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.balance import balance_matrix

from .difference import HIGH, LOW, Difference
from .features import Shared
from .match import FLOOR, log2_light

SCALE = np.array([0.5, 30.0, 0.005, 0.002, 0.3, 0.3])
"""Changes of like size: as in ``match``, and a third of a stop of vignette at the end of the long axis."""

PRIOR = np.array([1e-3, 1e-3, 0.3, 0.3, 0.5, 0.5])
"""Weight of the pull to zero, per SCALE and against residuals in units of their spread: hardly any on exposure and
balance; like half an observation on what else lenses and lamps do."""

ROUNDS = 25
OPPOSED = np.array([[1.0, 1.0, 0.0], [1.0, -1.0, -1.0], [1.0, 0.0, 1.0]]) / [3.0, 1.0, 1.0]
"""Channels to their mean, red less green and blue less green. A patch that lies a little beside itself errs in the mean
alone: colour is known several times better, and balance by it."""

ALIKE = 4.0
"""Patches that count as one: each overlaps its neighbours by half."""

PARTS = 4
"""Spatial groups of the jackknife."""

STEP = 1e-3
"""Step for the slope of balance and tint, of SCALE."""

DARK = 1.0 / 128.0
"""Light under which a surface counts half: noise, and flare that is not even."""


@dataclass(frozen=True)
class Fitted:
    """``values`` (6,): stops, mired, tint, flare, vignette of the first and of the second lens."""

    values: Array
    errors: Array
    """(6,) standard errors, by jackknife over parts of the frame and by the scatter, the larger."""
    residual: Array
    """(n, 3) stops by which each surface of the second frame is brighter than that says."""
    spread: float
    """Stops: robust spread of the residuals."""
    information: Array
    """(6, 6) inverse covariance of ``values`` by these surfaces alone, without the pull to zero."""
    pull: Array
    """(6,) ``information`` times the values that the surfaces alone would give."""


def fit(both: Shared) -> Fitted:
    """Cauchy loss, on mean and colour apart (Holland, Welsch 1977), by iteratively reweighted Gauss-Newton on stops.

    Surfaces are weighted so that each cell of a 12 x 8 grid of the second frame counts alike, and dark ones less.
    The error is a jackknife over quarters of the surfaces (Quenouille 1956): what is modelled badly errs by region,
    and scatter alone would not show it.
    """
    weight = _cells(both.at_second) * _light(both)
    values, spread, normal = _solve(both, weight, np.zeros(6))
    prior = np.diag((PRIOR / SCALE) ** 2)
    scatter = np.sqrt(np.diag(np.linalg.inv(normal / ALIKE + prior)))
    parts = _quarters(both.at_second)
    others = []
    for part in range(PARTS):
        rest = parts != part
        if rest.sum() >= 12:
            others.append(_solve(_only(both, rest), weight[rest], values, rounds=8)[0])
    jack = np.sqrt((len(others) - 1) / len(others) * np.sum((np.array(others) - np.mean(others, axis=0)) ** 2, axis=0))
    larger = max(1.0, float(np.mean((jack[:2] / scatter[:2]) ** 2)))
    information = normal / ALIKE / larger
    return Fitted(
        values,
        np.maximum(jack, scatter),
        _gap(both, values),
        spread,
        information,
        (information + prior / ALIKE / larger) @ values,
    )


def predicted(both: Shared, values: Array) -> Array:
    """(n, 3) log2 light of the second frame, as ``match`` takes it."""
    light = Difference.of(np.append(values[:3], 0.0)).apply(both.first)
    fall = values[4] * (both.at_first**2).sum(axis=1) - values[5] * (both.at_second**2).sum(axis=1)
    return log2_light(light * 2.0 ** fall[:, None] + values[3])


def _gap(both: Shared, values: Array) -> Array:
    return log2_light(both.second) - predicted(both, values)


def _only(both: Shared, rest: Array) -> Shared:
    return Shared(both.first[rest], both.second[rest], both.at_first[rest], both.at_second[rest])


def _solve(both: Shared, weight: Array, start: Array, rounds: int = ROUNDS) -> tuple[Array, float, Array]:
    values = start.copy()
    low, high = np.append(LOW, [-0.3, -0.3]), np.append(HIGH, [1.2, 1.2])
    if not start.any():
        values[0] = np.clip(np.median(_gap(both, values)), low[0], high[0])
    for _ in range(rounds):
        gap = _gap(both, values)
        parts = gap @ OPPOSED
        size = np.stack([np.abs(parts[:, 0]), np.hypot(parts[:, 1], parts[:, 2]) / np.sqrt(2.0)], axis=1)
        spread = np.array([max(float(_median(size[:, n], weight)), least) for n, least in ((0, 0.01), (1, 0.004))])
        belief = 1.0 / (1.0 + (size / (2.0 * spread)) ** 2)
        # A surface that is another colour is another surface.
        belief[:, 0] *= np.sqrt(belief[:, 1])
        rooted = np.sqrt(weight[:, None] * belief) / spread
        rooted = rooted[:, [0, 1, 1]]
        columns = np.stack([(column @ OPPOSED * rooted).ravel() for column in _slopes(both, values)], axis=-1)
        normal = columns.T @ columns + np.diag((PRIOR / SCALE) ** 2)
        step = np.linalg.solve(normal, columns.T @ (parts * rooted).ravel() - (PRIOR / SCALE) ** 2 * values)
        after = np.clip(values + step, low, high)
        done = np.all(np.abs(after - values) < 1e-5 * SCALE)
        values = after
        if done:
            break
    return values, float(spread[0]), columns.T @ columns


def _slopes(both: Shared, values: Array) -> list[Array]:
    """Six of (n, 3): by how much :func:`predicted` rises with each value. Balance, whose matrix has no simple slope, by
    a small step."""
    far, near = ((at**2).sum(axis=1)[:, None] for at in (both.at_first, both.at_second))
    scale = 2.0 ** (values[0] + values[4] * far - values[5] * near)
    plain, *turned = (
        both.first @ balance_matrix(float(mired), float(tint)).T
        for mired, tint in (values[1:3] + step for step in ([0.0, 0.0], [STEP * SCALE[1], 0.0], [0.0, STEP * SCALE[2]]))
    )
    seen = plain * scale
    light = seen + values[3]
    share = np.where(light > 0.0, 1.0 / (np.maximum(light, 0.0) + FLOOR), 0.0)
    mired, tint = ((t - plain) * scale * share / (np.log(2.0) * STEP * SCALE[n]) for n, t in enumerate(turned, 1))
    lit = seen * share
    return [lit, mired, tint, share / np.log(2.0), lit * far, -lit * near]


def _cells(at: Array) -> Array:
    """(n,) one over the surfaces in the same cell of 12 x 8, times their mean."""
    column = np.clip(((at[:, 0] + 1.0) * 6.0).astype(int), 0, 11)
    row = np.clip(((at[:, 1] / 0.5625 + 1.0) * 4.0).astype(int), 0, 7)
    _, inverse, count = np.unique(row * 12 + column, return_inverse=True, return_counts=True)
    return 1.0 / np.sqrt(count[inverse] * 1.0)


def _light(both: Shared) -> Array:
    dark = np.minimum(both.first.min(axis=1), both.second.min(axis=1))
    return np.clip(dark, 0.0, None) / (np.clip(dark, 0.0, None) + DARK) + 0.02


def _quarters(at: Array) -> Array:
    """(n,) 0..3: left and right halves of the surfaces, each halved by height."""
    right = at[:, 0] > np.median(at[:, 0])
    out = np.zeros(len(at), int)
    for side in (False, True):
        chosen = right == side
        if chosen.any():
            out[chosen] = 2 * side + (at[chosen, 1] > np.median(at[chosen, 1]))
    return out


def _median(values: Array, weight: Array) -> Array:
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    return values[order][np.searchsorted(total, total[-1] / 2.0)]
