"""What the data says about each parameter, and what it leaves open.

Near the solution the data residuals are straight in the parameters, so their Jacobian tells how far a parameter can
move before the data notices. Those it does not notice are put back to their start; those left are given an uncertainty
that also counts what the parameters put back might really have been.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .solver import Problem

Array = NDArray[np.float64]

SIGMAS = 2.0
"""Stated uncertainties are two standard deviations: 95 % where errors are normal."""

OPEN = 0.25
"""A parameter that could move by more than this share of its usual range, all others held, is put back."""

SURE = 0.12
"""A parameter is called determined when its uncertainty is at most this share of its usual range, the parameters that
were put back counted in: half a stop of exposure."""

UNKNOWN = 0.35
"""Standard deviation, in usual ranges, of what a parameter that was put back may really have been (a value anywhere in
the range has 0.29, and it may start at one end)."""


@dataclass(frozen=True)
class Information:
    """What the data says at one place."""

    matrix: Array
    """(k, k) Fisher information of all free parameters in z, from data goals alone."""

    def alone(self, which: Sequence[int]) -> Array:
        """(len(which),) standard deviations in z when only these move and all others are right where they are."""
        part = self.matrix[np.ix_(which, which)]
        return np.asarray(np.sqrt(np.maximum(np.diag(_inverse(part)), 0.0)), np.float64)

    def uncertainty(self, moving: Sequence[int], held: Sequence[int]) -> tuple[Array, Array]:
        """Standard deviations (m,) in z of the moving parameters when ``held`` stay at values that may be wrong.

        Also (m, h): how far each moves when a held one is wrong by 1, so what it would trade against.
        """
        m = list(moving)
        if not m:
            return np.zeros(0), np.zeros((0, len(held)))
        inverse = _inverse(self.matrix[np.ix_(m, m)])
        variance = np.diag(inverse).copy()
        trade = np.zeros((len(m), len(held)))
        if len(held):
            trade = inverse @ self.matrix[np.ix_(m, list(held))]
            variance = variance + UNKNOWN**2 * (trade**2).sum(axis=1)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)), np.float64), trade


def _inverse(matrix: Array) -> Array:
    # A parameter without any effect gets a large, finite variance.
    return np.asarray(np.linalg.inv(matrix + 1e-6 * np.eye(len(matrix))), np.float64)


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


def open_ones(known: Information, moving: Sequence[int]) -> list[int]:
    """Which of the moving parameters the data does not place, worst first.

    One at a time: a parameter goes when its uncertainty among those left is more than :data:`OPEN`, and the rest is
    judged again without it. Of two that do the same (exposure, and the density grey prints at) one so remains and can
    still follow the data.
    """
    left, gone = list(moving), []
    while left:
        deviation = known.alone(left)
        worst = int(np.argmax(deviation))
        if SIGMAS * deviation[worst] <= OPEN:
            break
        gone.append(left.pop(worst))
    return gone
