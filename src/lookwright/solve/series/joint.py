"""All shots of a series together: each pair's surfaces say something of both, and every shot has one exposure, balance,
flare and lens that must suit all of its pairs.

A balance is a gain on cone signals (CAT16), so in the logarithm of those gains differences add up exactly along any
path through the shots; in stops and mired they do not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

from lookwright.arrays import Array
from lookwright.colour.balance import balance_matrix
from lookwright.colour.spaces.primaries import CATS, primaries

from .difference import Difference
from .fit import Fitted
from .graph import reached

USUAL_LENS, LENS = 0.25, 0.25
"""Vignette of lenses in stops at the end of the long axis, and its spread, before anything is seen (our choice)."""

FLARE = 0.003
"""Spread of veiling light between takes, of a white of 1: half of what ``match`` calls usual."""

BELIEVED = 2.5
"""Distance of a pair from the answer, in its own standard errors, up to which it counts in full. Beyond, its weight
falls as in least absolute deviations (L1), so that pairs across a change of light are outvoted."""

ROUNDS = 25
UNDERSTATED = np.array([1.0, 1.4])
"""By how much the errors of stops and mired that the surfaces tell fall short of those that were found, on the half of
the benchmark's pairs that this was developed on (tests/benchmarks/series_table.py)."""

MODEL = np.array([0.008, 0.6])
"""Stops and mired that no number of surfaces takes away: balances of cameras are not quite gains on cones."""

SIZE = 5
"""Numbers a shot: three cone gains, flare, vignette."""


@dataclass(frozen=True)
class Edge:
    """What a pair of shots says."""

    first: int
    second: int
    fitted: Fitted
    trust: float = 1.0
    """0..1, on its information."""


@dataclass(frozen=True)
class Level:
    """A shot against the fixed one, with standard errors."""

    difference: Difference
    stops_error: float
    mired_error: float


def cone_gains(values: Array) -> Array:
    """(3,) log2 gains of the CAT16 cones for (stops, mired, tint)."""
    return np.asarray(values[0] + np.log2((_CONES @ balance_matrix(values[1], values[2]) @ np.ones(3)) / _GREY))


def of_cone_gains(gains: Array) -> Array:
    """(stops, mired, tint) of cone gains: the inverse, by Newton's method."""
    values = np.array([float(np.mean(gains)), 0.0, 0.0])
    for _ in range(12):
        step = np.linalg.solve(slopes(values), gains - cone_gains(values))
        values = values + np.clip(step, [-4.0, -60.0, -0.01], [4.0, 60.0, 0.01])
        values[1:] = np.clip(values[1:], [-100.0, -0.03], [220.0, 0.03])
        if np.abs(step[1]) < 1e-7:
            break
    return values


def slopes(values: Array) -> Array:
    """(3, 3) of cone gains by stops, mired and tint."""
    steps = np.array([1e-3, 0.5, 1e-4])
    columns = []
    for n, h in enumerate(steps):
        up, down = values.copy(), values.copy()
        up[n] += h
        down[n] -= h
        columns.append((cone_gains(up) - cone_gains(down)) / (2.0 * h))
    return np.stack(columns, axis=1)


def joint(count: int, edges: Sequence[Edge], fixed: int) -> list[Level | None]:
    """Solve ``count`` shots from the pairs among them; None for a shot that no path of pairs joins to ``fixed``."""
    joined = reached(count, [(e.first, e.second) for e in edges], fixed)
    used = [e for e in edges if joined[e.first]]
    if not used:
        return [Level(Difference(), 0.0, 0.0) if n == fixed else None for n in range(count)]
    told = [_Told(e) for e in used]
    x = np.zeros((count, SIZE))
    stops = np.zeros(count)
    weight = np.ones(len(told))
    for _ in range(ROUNDS):
        rows = [t.rows(stops) for t in told]
        normal, right = _normal(count, told, rows, weight, fixed)
        factor = splu(normal)
        before, x = x, factor.solve(right).reshape(count, SIZE)
        stops = np.clip([of_cone_gains(g)[0] if j else 0.0 for g, j in zip(x[:, :3], joined, strict=True)], -4.0, 4.0)
        far = np.array([t.distance(r, x) for t, r in zip(told, rows, strict=True)])
        weight = np.minimum(1.0, BELIEVED / np.maximum(far, 1e-9))
        if np.abs(x - before).max() < 1e-6:
            break
    larger = max(1.0, float(np.median(far**2)) / 5.35)  # the median of chi-squared of six
    return [_level(n, x, factor, larger, fixed) if joined[n] else None for n in range(count)]


def _level(node: int, x: Array, factor: splu, larger: float, fixed: int) -> Level:
    if node == fixed:
        return Level(Difference(), 0.0, 0.0)
    unit = np.zeros((x.size, 3))
    unit[node * SIZE + np.arange(3), np.arange(3)] = 1.0
    spread = factor.solve(unit)[node * SIZE : node * SIZE + 3] * larger
    values = of_cone_gains(x[node, :3])
    back = np.linalg.inv(slopes(values))
    errors = np.hypot(np.sqrt(np.maximum(np.diag(back @ spread @ back.T), 0.0))[:2] * UNDERSTATED, MODEL)
    flare = float(x[node, 3] * 2.0 ** values[0])
    return Level(Difference.of(np.append(values, flare)), float(errors[0]), float(errors[1]))


class _Told:
    """A pair as a quadratic in the numbers of its two shots."""

    def __init__(self, edge: Edge) -> None:
        self.edge = edge
        values = edge.fitted.values
        self.information = edge.fitted.information * edge.trust + np.diag([1e-9, 1e-9, 1e-3, 1e-3, 1e-6, 1e-6])
        self.own = np.linalg.solve(self.information, edge.fitted.pull * edge.trust)
        self.back = np.linalg.inv(slopes(values[:3]))
        self.start = np.concatenate([values[:3] - self.back @ cone_gains(values[:3]), np.zeros(3)])

    def rows(self, stops: Array) -> Array:
        """(6, 10): the pair's own numbers from those of its shots, less ``start``."""
        rows = np.zeros((6, 2 * SIZE))
        rows[:3, :3], rows[:3, SIZE : SIZE + 3] = -self.back, self.back
        rows[3, 3], rows[3, SIZE + 3] = -(2.0 ** stops[self.edge.second]), 2.0 ** stops[self.edge.second]
        rows[4, 4] = rows[5, SIZE + 4] = 1.0
        return rows

    @property
    def places(self) -> NDArray[np.intp]:
        """(10,) where its shots' numbers stand among all."""
        return np.concatenate([n * SIZE + np.arange(SIZE, dtype=np.intp) for n in (self.edge.first, self.edge.second)])

    def distance(self, rows: Array, x: Array) -> float:
        """Of the answer from what the pair itself would say, in its standard errors."""
        gap = rows @ x.ravel()[self.places] + self.start - self.own
        return float(np.sqrt(max(gap @ self.information @ gap, 0.0)))


def _normal(
    count: int, told: Sequence[_Told], rows: Sequence[Array], weight: Array, fixed: int
) -> tuple[coo_matrix, Array]:
    at_rows, at_columns, values = [], [], []
    right = np.zeros(count * SIZE)
    for t, r, w in zip(told, rows, weight, strict=True):
        block = w * r.T @ t.information @ r
        at_rows.append(np.repeat(t.places, 2 * SIZE))
        at_columns.append(np.tile(t.places, 2 * SIZE))
        values.append(block.ravel())
        np.add.at(right, t.places, w * r.T @ t.information @ (t.own - t.start))
    own = np.tile([1e-6, 1e-6, 1e-6, FLARE**-2, LENS**-2], count)
    # The fixed shot's gains and flare are held at zero by a weight that nothing outweighs.
    own[fixed * SIZE : fixed * SIZE + 4] = 1e12
    right[4::SIZE] += USUAL_LENS / LENS**2
    everywhere = np.arange(count * SIZE)
    normal = coo_matrix(
        (
            np.concatenate([*values, own]),
            (np.concatenate([*at_rows, everywhere]), np.concatenate([*at_columns, everywhere])),
        ),
        shape=(count * SIZE, count * SIZE),
    )
    return normal.tocsc(), right


_CONES = CATS["CAT16"] @ primaries("ACEScg").to_xyz
_GREY = _CONES @ np.ones(3)
