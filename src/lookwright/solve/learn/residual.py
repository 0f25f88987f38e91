"""A smooth displacement of signals that carries what a recipe leaves, and nothing where no colour was seen.

The displacement is a penalised spline through the means of the differences seen (``bins``, ``spline``), as smooth as
predicts best what was left out (``smoothing``). It fades with the distance from the last colour seen, is put on a
lattice (``lattice``), and folds of that are mended by the least change (``unfold``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.errors import LookwrightError
from lookwright.look.steps.base import smoothstep
from lookwright.lut.fit.weights import trilinear_weights
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice, grid

from .bins import Binned, binned
from .lattice import SIZE, on_lattice
from .smoothing import Chosen, chosen, fitted
from .spline import Spline
from .unfold import folds, unfolded

COVER = 17
"""Points a side of the map of coverage."""

NEAR, FAR = 0.08, 0.4
"""Distance from the nearest colour seen, in signal, up to which the spline is believed, and from which on it is not:
between them it fades. A spline runs on straight; the hues next to a seen one do go with it (measured on unseen stills),
the far corner of the cube does not."""

OVERSHOOT = 1.1
"""Most that an unseen colour may be moved, against the most that a seen one is."""

ENOUGH_SAMPLES = 3.0
"""Samples, as the sum of their shares, from which a point of the map counts as fully covered."""

SOFT = 0.04
"""Difference of signal from which a sample counts by its size: parts that moved between the two frames."""

MOST = 0.3
"""Largest displacement of a colour seen, in signal: more is not what a recipe leaves but another picture. A strong
grade with other primaries leaves 0.22 behind a tuned recipe (measured)."""

FEW_COLOURS = 30
"""Covered points under which there is nothing to learn from: a flat or grey picture."""

DIGITS = 6
"""Decimals of a .cube."""

FITTED = 15_000
"""Seen colours, at most, that the lattice is fitted at."""


@dataclass(frozen=True)
class Residual:
    """What was learnt."""

    lattice: Lattice
    """Output signal of the recipe to output signal; the identity well away from colours that were seen."""
    covered: NDArray[np.float64]
    """(COVER, COVER, COVER) 0..1: how well each part of the cube is covered."""
    how: Chosen
    """The kernel and smoothing that predicted best, and their error."""
    before: float
    """Root mean square difference of signal at colours that were not fitted to, without the lattice."""
    after: float
    """The same with it."""
    mended: int
    """Tetrahedra of the lattice that were folded and are no more."""
    mended_by: float
    """Most that a lattice point was moved for it, in signal."""

    @property
    def explained(self) -> float:
        """Share of the squared differences that the lattice takes away."""
        return 1.0 - (self.after / max(self.before, 1e-12)) ** 2

    @property
    def coverage(self) -> float:
        """Share of the cube's places that samples speak for."""
        return float((self.covered >= 0.5).mean())

    @property
    def largest(self) -> float:
        """Largest displacement of a lattice point in signal."""
        return float(np.linalg.norm(self.lattice.table - grid(self.lattice.size), axis=-1).max())


def learn_residual(made: Array, wanted: Array, still: NDArray[np.intp] | None = None, where: str = "learn") -> Residual:
    """Fit the displacement.

    Parameters
    ----------
    made
        (n, 3) output signal of the recipe, 0..1.
    wanted
        (n, 3) the graded frames' signal at the same pixels. Every fifth sample is not fitted to: they give the figures.
    still
        (n,) from which pair each is; None: all from one.

    Raises
    ------
    LookwrightError
        Too few colours; differences that are no function of colour; or a displacement that is too large.
    """
    still = np.zeros(len(made), np.intp) if still is None else still
    held = np.arange(len(made)) % 5 == 4
    covered = coverage_of(made[~held])
    if (covered >= 0.5).sum() < FEW_COLOURS:
        raise LookwrightError(
            where,
            f"the frames hold too few colours to learn from ({int((covered >= 0.5).sum())} of {COVER**3} places)",
            f"at least {FEW_COLOURS}",
            "take frames with more colours and tones in them",
        )
    spline, how, cells = _smooth(made[~held], wanted[~held], still[~held])
    moved = np.round(on_lattice(_near(spline, cells), _thinned(made[~held])), DIGITS)
    table = np.round(unfolded(grid(SIZE) + moved), DIGITS)
    before = _rms(wanted[held] - made[held])
    after = _rms(wanted[held] - np.asarray(lookup(Lattice(table), made[held], "tetrahedral"), np.float64))
    if before > 0.01 and after > 0.7 * before:
        raise LookwrightError(
            where,
            f"the graded frame differs by more than colour: a lattice takes away only "
            f"{100 * (1 - after / before):.0f} % of the {100 * before:.1f} % of signal that the recipe leaves",
            hint="windows, vignettes, grain or parts that moved cannot be learnt",
        )
    if fault := fault_of(spline(cells.made)):
        raise LookwrightError(
            where,
            f"what the recipe leaves cannot be carried by a smooth lattice: {fault}",
            hint="tune the recipe further, or give it the steps it lacks",
        )
    by = float(np.abs(table - grid(SIZE) - moved).max())
    return Residual(Lattice(table), covered, how, before, after, folds(grid(SIZE) + moved), by)


def _smooth(made: Array, wanted: Array, still: NDArray[np.intp]) -> tuple[Spline, Chosen, Binned]:
    """The spline, fitted twice: the second time with outliers taken down."""
    cells = binned(made, wanted, still)
    how = chosen(cells)
    spline = fitted(cells, how)
    off = np.linalg.norm(wanted - made - spline(made), axis=1)
    cells = binned(made, wanted, still, 1.0 / np.sqrt(1.0 + (off / SOFT) ** 2))
    return fitted(cells, how), how, cells


def _near(spline: Spline, cells: Binned) -> Any:
    """The spline as a function (m, 3) to (m, 3) that fades away from what was seen, and never moves much further."""
    from scipy.spatial import cKDTree

    tree = cKDTree(cells.made)
    most = OVERSHOOT * float(np.linalg.norm(cells.moved, axis=1).max())

    def moved(points: Array) -> Array:
        found = spline(points)
        size = np.linalg.norm(found, axis=1, keepdims=True)
        distance = np.asarray(tree.query(points)[0])[:, None]
        share = 1.0 - smoothstep((distance - NEAR) / (FAR - NEAR))
        return found * (share * most / np.maximum(size, most))

    return moved


def _thinned(made: Array) -> Array:
    return made[:: -(-len(made) // FITTED)]


def coverage_of(made: Array) -> Array:
    """(COVER, COVER, COVER) 0..1: samples near each place of the cube, over :data:`ENOUGH_SAMPLES`."""
    hits = np.asarray(trilinear_weights(COVER, made).sum(axis=0)).ravel()
    return np.minimum(hits / ENOUGH_SAMPLES, 1.0).reshape(COVER, COVER, COVER)


def fault_of(moved: Array) -> str:
    """Why displacements (n, 3) of colours seen must not be used, or nothing."""
    largest = float(np.linalg.norm(moved, axis=-1).max())
    if largest > MOST:
        return f"it would move a colour by {100 * largest:.0f} % of signal (at most {100 * MOST:.0f} %)"
    return ""


def _rms(difference: Array) -> float:
    return float(np.sqrt(np.mean(np.sum(difference**2, axis=-1))))


def as_data(residual: Residual) -> dict[str, Any]:
    """Figures for a program."""
    return {
        "points": SIZE,
        "coverage": residual.coverage,
        "kernel": f"r^{residual.how.power}",
        "smoothing": residual.how.smoothing,
        "error_on_left_out_stills_and_colours": residual.how.error,
        "difference_before": residual.before,
        "difference_after": residual.after,
        "explained": residual.explained,
        "largest_displacement": residual.largest,
        "folds_mended": residual.mended,
        "mended_by": residual.mended_by,
    }
