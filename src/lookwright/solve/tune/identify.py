"""What the data says about each parameter, and what it leaves open.

Near the solution the data residuals are straight in the parameters, so their Jacobian tells how far a parameter can
move before the data notices, alone or together with others that do the same. What can go back to its start at no cost
that the data would notice is put back; every parameter is given an uncertainty that counts all others as free.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array

from .problem import Problem

SIGMAS = 2.0
"""Stated uncertainties are two standard deviations: 95 % where errors are normal."""

SURE = 0.12
"""A parameter is called determined when its uncertainty is at most this share of its usual range: half a stop of
exposure."""

UNKNOWN = 0.35
"""Standard deviation, in usual ranges, of what a parameter may be before any picture is seen (a value anywhere in the
range has 0.29, and it may start at one end)."""

NOTICED = 2.0
"""Rise, in variances of the data, that putting parameters back may cost in all: what chance gives one time in six (the
chi-square distribution of one number)."""


@dataclass(frozen=True)
class Information:
    """What the data says at one place."""

    matrix: Array
    """(k, k) Fisher information of all free parameters in z, from data goals alone."""

    def spread(self) -> Array:
        """(k, k) covariance in z of all parameters, from what they may be at all and what the data says."""
        count = len(self.matrix)
        return np.asarray(np.linalg.inv(self.matrix + np.eye(count) / UNKNOWN**2), np.float64)


def information(problem: Problem, z: Array) -> Information:
    """The data's information at z.

    Each data goal counts its residuals as so many independent ones (``pieces``) with the larger of its floor and what
    it actually leaves as their standard deviation: a goal that cannot be met says little about where parameters are.
    """
    problem.at(z)
    jacobian = problem.jacobian(z, data_only=True)
    seen = problem.model.seen()
    total = np.zeros((len(z), len(z)))
    start = 0
    for g in problem.goals:
        if not g.data:
            continue
        rows = g.residuals(seen[g.part])
        part = jacobian[start : start + len(rows)] / np.sqrt(g.weight)
        start += len(rows)
        mean_square = float(rows @ rows)
        if g.name == "levels":  # residuals that count whole, not as a mean
            scale = 1.0 / max(g.floor**2, mean_square / max(len(rows), 1))
        else:
            scale = g.pieces / max(g.floor**2, mean_square)
        total += scale * part.T @ part
    return Information(total)


def worth(problem: Problem, z: Array, budget: float) -> list[int]:
    """Which parameters can go back to their start, together, for no more than ``budget`` of cost.

    One at a time, the cheapest first; what each costs is counted with all others free to follow (backward elimination),
    from the problem made straight at the solution z, the limits that press there included. Parameters on a bound do
    not follow. Who goes must be tried before it is believed.
    """
    square = problem.curvature(z)
    bounds = [f.bounds_z() for f in problem.model.free]
    firm = [i for i, (low, high) in enumerate(bounds) if z[i] - low < 1e-6 or high - z[i] < 1e-6]
    left = [i for i in range(len(z)) if z[i] != 0.0]
    gone = [i for i in range(len(z)) if z[i] == 0.0]
    while left:
        costs = []
        for i in left:
            out = [*gone, i]
            d = -z[out]
            follow = [j for j in left if j != i and j not in firm]
            value = d @ square[np.ix_(out, out)] @ d
            if follow:
                slope = square[np.ix_(follow, out)] @ d
                value -= slope @ np.linalg.solve(square[np.ix_(follow, follow)], slope)
            costs.append(float(value))
        best = int(np.argmin(costs))
        if costs[best] > budget:
            break
        gone.append(left.pop(best))
    return gone
