"""A smooth displacement of signals that carries what a recipe leaves, and nothing where no colour was seen.

The displacement lives on a small lattice over the output signal. It is the regularised least-squares fit of the
differences seen (sparse; shares of lattice points from ``lut.weights``), smooth in second differences, and drawn to
zero where no sample says otherwise, so that it fades within a cell or two of the last colour seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.errors import LookwrightError
from lookwright.lut.fit.weights import bends, trilinear_weights
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice, grid

SIZE = 17
"""Points a side: what is left over a recipe is smooth, and 4,913 colours can be learnt from a frame."""

SMOOTHING = (0.003, 0.02, 0.15, 1.0)
"""Weights of the squared second differences that are tried; the one that predicts colours it was not fitted to."""

DECAY = 1.0
"""Smoothing over pull to zero. A bending line under a pull fades over DECAY^(1/4) = 1 cell, 6 % of signal; with a
longer reach displacements grew beyond the last colours seen (measured: 40 gives 12 % there where colours seen moved by
10 %)."""

OVERSHOOT = 1.1
"""Most that an unseen colour may be moved, against the most that a seen one is."""

ENOUGH_SAMPLES = 3.0
"""Samples, as the sum of their shares, from which a lattice point counts as fully covered."""

SOFT = 0.04
"""Difference of signal from which a sample counts by its size: parts that moved between the two frames."""

MOST = 0.2
"""Largest displacement of any lattice point, in signal: more is not what a recipe leaves but another picture."""

LEAST_ROOM = 0.1
"""Least volume of a displaced cell against a plain one where no colour was seen. At 0 neighbouring colours become one,
which only colours that were seen may say: a grade does press blacks together."""

FEW_COLOURS = 30
"""Covered lattice points under which there is nothing to learn from: a flat or grey picture."""


@dataclass(frozen=True)
class Residual:
    """What was learnt."""

    lattice: Lattice
    """Output signal of the recipe to output signal; the identity well away from colours that were seen."""
    covered: NDArray[np.float64]
    """(SIZE, SIZE, SIZE) 0..1: how well each lattice point is covered."""
    smoothing: float
    before: float
    """Root mean square difference of signal at colours that were not fitted to, without the lattice."""
    after: float
    """The same with it."""

    @property
    def explained(self) -> float:
        """Share of the squared differences that the lattice takes away."""
        return 1.0 - (self.after / max(self.before, 1e-12)) ** 2

    @property
    def coverage(self) -> float:
        """Share of the lattice's points that samples speak for."""
        return float((self.covered >= 0.5).mean())

    @property
    def largest(self) -> float:
        """Largest displacement of a lattice point in signal."""
        return float(np.linalg.norm(self.lattice.table - grid_of(self.lattice.size), axis=-1).max())


def grid_of(size: int) -> Array:
    """(size, size, size, 3) the identity lattice."""
    return grid(size)


def learn_residual(made: Array, wanted: Array, where: str = "learn") -> Residual:
    """Fit the displacement.

    Parameters
    ----------
    made
        (n, 3) output signal of the recipe, 0..1.
    wanted
        (n, 3) the graded frames' signal at the same pixels. Every fifth sample is not fitted to: they choose the
        smoothing and give the figures.

    Raises
    ------
    LookwrightError
        Too few colours; differences that are no function of colour; or a displacement that is too large or folds
        colours together even at the strongest smoothing.
    """
    held = np.arange(len(made)) % 5 == 4
    covered = coverage_of(made[~held])
    if (covered >= 0.5).sum() < FEW_COLOURS:
        raise LookwrightError(
            where,
            f"the frames hold too few colours to learn from ({int((covered >= 0.5).sum())} of {SIZE**3} places)",
            f"at least {FEW_COLOURS}",
            "take frames with more colours and tones in them",
        )
    before = _rms(wanted[held] - made[held])
    best: tuple[float, float, Array] | None = None
    fault = ""
    for smoothing in SMOOTHING:
        moved = _fit(made[~held], wanted[~held] - made[~held], covered, smoothing)
        fault = fault_of(moved, covered)
        if fault:
            continue
        left = _rms(wanted[held] - made[held] - _at(moved, made[held]))
        if best is None or left < best[0]:
            best = left, smoothing, moved
        elif left > 1.05 * best[0]:  # smoother still only gets worse
            break
    if best is None:
        raise LookwrightError(
            where,
            f"what the recipe leaves cannot be carried by a smooth lattice: {fault}",
            hint="tune the recipe further, or give it the steps it lacks",
        )
    after, smoothing, moved = best
    if before > 0.01 and after > 0.7 * before:
        raise LookwrightError(
            where,
            f"the graded frame differs by more than colour: a lattice takes away only "
            f"{100 * (1 - after / before):.0f} % of the {100 * before:.1f} % of signal that the recipe leaves",
            hint="windows, vignettes, grain or parts that moved cannot be learnt",
        )
    table = np.clip(grid_of(SIZE) + moved, 0.0, 1.0)
    return Residual(Lattice(table), covered, smoothing, before, after)


def coverage_of(made: Array) -> Array:
    """(SIZE, SIZE, SIZE) 0..1: samples near each lattice point, over :data:`ENOUGH_SAMPLES`."""
    hits = np.asarray(trilinear_weights(SIZE, made).sum(axis=0)).ravel()
    return np.minimum(hits / ENOUGH_SAMPLES, 1.0).reshape(SIZE, SIZE, SIZE)


def _fit(made: Array, difference: Array, covered: Array, smoothing: float) -> Array:
    """(SIZE, SIZE, SIZE, 3) displacement by least squares, twice: the second time with outliers taken down."""
    from scipy import sparse
    from scipy.sparse.linalg import splu

    shares = trilinear_weights(SIZE, made)
    bend = bends(SIZE)
    # Drawn to zero only where nothing was seen; 1e-6 keeps the system definite.
    pull = sparse.diags((1.0 - covered.ravel()) * smoothing / DECAY + 1e-6)
    weight = np.ones(len(made))
    found = np.zeros((SIZE**3, 3))
    for _ in range(2):
        square = shares.T @ sparse.diags(weight) @ shares + smoothing * bend + pull
        # Symmetric: half the time of the general order of elimination (measured).
        solver = splu(square.tocsc(), "MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        found = solver.solve(shares.T @ (weight[:, None] * difference))
        size = np.linalg.norm(difference - shares @ found, axis=1)
        weight = 1.0 / np.sqrt(1.0 + (size / SOFT) ** 2)
    return np.asarray(found).reshape(SIZE, SIZE, SIZE, 3)


def fault_of(moved: Array, covered: Array) -> str:
    """Why a displacement must not be used, or nothing."""
    largest = float(np.linalg.norm(moved, axis=-1).max())
    if largest > MOST:
        return f"it would move a colour by {100 * largest:.0f} % of signal (at most {100 * MOST:.0f} %)"
    size = np.linalg.norm(moved, axis=-1)
    known = covered >= 0.5
    if (~known).any() and size[~known].max() > OVERSHOOT * size[known].max():
        return "it would move colours that were not seen further than any that were"
    room = cell_volumes(grid_of(SIZE) + moved)
    seen = (
        np.minimum.reduce(
            [
                covered[i : SIZE - 1 + i, j : SIZE - 1 + j, k : SIZE - 1 + k]
                for i in (0, 1)
                for j in (0, 1)
                for k in (0, 1)
            ]
        )
        >= 0.5
    )
    if (room[seen] < 0.0).any():
        return "it would make neighbouring colours change places"
    if (room[~seen] < LEAST_ROOM).any():
        return "it would press colours together that were not seen"
    return ""


def cell_volumes(table: Array) -> Array:
    """Signed volume of each cell (n-1, n-1, n-1) by its mean edges, 1 for the identity lattice."""

    def edge(axis: int) -> Array:
        found = np.diff(table, axis=axis)
        for other in {0, 1, 2} - {axis}:
            count = found.shape[other] - 1
            found = 0.5 * (np.take(found, range(count), other) + np.take(found, range(1, count + 1), other))
        return found * (table.shape[0] - 1)

    return np.linalg.det(np.stack([edge(0), edge(1), edge(2)], axis=-1))


def _at(moved: Array, points: Array) -> Array:
    return np.asarray(lookup(Lattice(moved), points, "trilinear"), np.float64)


def _rms(difference: Array) -> float:
    return float(np.sqrt(np.mean(np.sum(difference**2, axis=-1))))


def as_data(residual: Residual) -> dict[str, Any]:
    """Figures for a program."""
    return {
        "points": SIZE,
        "coverage": residual.coverage,
        "smoothing": residual.smoothing,
        "difference_before": residual.before,
        "difference_after": residual.after,
        "explained": residual.explained,
        "largest_displacement": residual.largest,
    }
