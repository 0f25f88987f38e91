"""Lattice values that err less than plain samples of the look, for either lookup.

A plainly sampled lattice is exact at its points and errs to one side between them. Moving the points a
little, so that the errors fall to both sides, makes the mean error about half. The values are chosen by
regularised least squares against the exact look, over pixels of the stills and the whole colour cube, for
trilinear and tetrahedral lookups together, since nobody knows which one the file will meet.

What is held: lattice points on the neutral axis keep their exact values; no point moves far, so that nowhere
is the refined lattice worse than the plain one by more than a stated bound; the ends of a display signal are
not overstepped.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.errors import PictureError
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import CHUNK, Lattice, Progress, sample
from lookwright.lut.lattices.samples import edges, fingerprint, neutrals, per_cell, spread

from .appearance import ToLab, ends_of, lab_of, sensitivity
from .fidelity import Fidelity, _deviation, fidelity
from .solve import Fit, Run, parts_of
from .weights import cell_of

BOUND = 1.5
"""CIEDE2000 by which a refined lattice may be worse than a plain one at any colour. Tighter bounds cost
accuracy everywhere else: see ``tests/benchmarks/fidelity_table.py --bounds``."""

DIGITS = 5
"""Decimals of the values, 0.005 of a 10-bit code. Two sets of releases (numpy 1.26 with scipy 1.11, numpy 2.4 with
scipy 1.17) differ by 7e-16 on average before rounding (measured, 33 points, film print): about one file in 60,000
would have a digit that differs, in 8,000 with 65 points. tests/benchmarks/same_bytes.py compares the bytes."""

CHECKED = 60_000
"""Colours of the cube at which the bound is checked and the report made; none of them is fitted
to. A third of them let the bound slip by a hundredth elsewhere on small lattices, whose cells are large."""

EDGES = 20_000
"""Colours on the edges between lattice points at which the bound is checked too (not reported)."""

HELD = 5
"""One in so many samples of the stills is kept for the report. Not a multiple of 2 or 3, the bases of the spread
that the samples were drawn by: every fourth of them would all lie in one quarter of the picture."""

_MARGIN = 0.95
"""Share of the bound allowed at the colours checked, so that it holds at those between them too."""

_ROUNDS = 3
"""Solutions in a row, each with weights from the one before."""
_SHARES = np.array([[0.45], [0.55]])
"""Shares of trilinear and tetrahedral residuals. Trilinear lookups gain more from moved points; these shares leave
both with about the same mean difference on the stills (measured on the looks in ``looks/``)."""
_STILLS, _CUBE, _NEUTRAL = 4.0, 1.0, 0.1
"""Weights of the three kinds of samples, each as a whole."""
_HOLD, _SMOOTH = 1e-3, 1e-3
_ITERATIONS = 10
"""After eight steps the mean difference no longer changes in its third digit (measured)."""
_SOFT = 0.03
"""After the first round residuals well over this many CIEDE2000 count by size, not square, so the mean falls."""
_CUBE_SAMPLES = 131_072
"""Aim for the number of fitted colours of the cube; at least one in each cell."""
_MOST_CELLS = 64**3
"""Lattices with more cells get so many colours spread over the cube instead, or they would need gigabytes; points
that no colour reaches keep close to their plain values."""

Report = dict[str, Fidelity]
"""``stills`` (where there are any) and ``cube``."""


@dataclass(frozen=True)
class Refined:
    """A refined lattice with the evidence for it."""

    lattice: Lattice
    plain: Lattice
    """The plainly sampled lattice it was made from."""
    report: Report
    """Colour differences of ``lattice`` from the exact look, at colours that were not fitted to."""
    plain_report: Report
    """The same of ``plain``."""
    bound: float
    worst: float
    """Most by which any of those colours is worse than with ``plain``, in CIEDE2000; at most ``bound``."""
    seed: int
    samples: int
    """Samples from stills, 0 for none."""
    fingerprint: str
    """Names the samples from stills; empty for none."""

    @property
    def made_by(self) -> str:
        """One line for a file header: how the values were chosen, so that the same can be done again."""
        drawn = f"{self.samples} pixels of stills ({self.fingerprint})" if self.samples else "no stills"
        return f"Refined by least squares, bound {self.bound:g} CIEDE2000, seed {self.seed}, {drawn}"


def refine(
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
) -> Refined:
    """Choose lattice values by least squares.

    Parameters
    ----------
    pipeline
        The look: (M, 3) float64 input signal in 0..1 to (M, 3) output signal. Called from several threads.
    size
        Points per axis, 2 to 129.
    samples
        (M, 3) input signal from the stills (``sample_stills``); None or empty for the cube alone. One in
        five is not fitted to but kept for the report. Values outside 0..1 are clipped.
    seed
        Shifts the fitted colours of the cube.
    progress
        Called in this thread as ``progress(done, 100)``.
    threads
        Worker threads; all cores when None. The result does not depend on it.
    bound
        Most by which any colour may be worse than with plain sampling, in CIEDE2000.
    to_lab, ends, title
        Output signal to CIELAB, and the lowest and highest value the output may have (None: no limits); both
        follow from ``pipeline.output`` where ``to_lab`` is None. The title goes into the lattice.

    Returns
    -------
    The lattice, values rounded to 5 decimals, neutral points exact; and the report.

    Raises
    ------
    LutFileError
        For a wrong size, or a look that gives values that are not finite.
    PictureError
        For NaN among the samples.
    """
    if to_lab is None:
        output = getattr(pipeline, "output", None)
        if output is None:
            raise TypeError("to_lab is needed for a look that does not state its output")
        to_lab, ends = lab_of(output), ends_of(output)
        title = title or pipeline.look.title  # type: ignore[attr-defined]
    drawn = np.clip(_colours(samples), 0.0, 1.0)
    held = np.arange(len(drawn)) % HELD == HELD - 1
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:

        def run(function: Callable[[Any], Any], parts: Iterable[Any]) -> list[Any]:
            return list(pool.map(function, parts))

        told = _Told(progress)
        plain = sample(pipeline, size, threads=threads, title=title)
        told(10)
        job = _Job(pipeline, plain, to_lab, ends, run, bound)
        moved = job.fitted(drawn[~held], seed, told)
        # The bound is checked, and the report made, where nothing was fitted.
        checked = {"stills": drawn[held]} if held.any() else {}
        checked["cube"] = spread(CHECKED, 3, seed + 1)
        checked["edges"] = edges(size, EDGES, seed + 1)
        return job.checked(moved, checked, drawn, seed, told)


def report(
    pipeline: Callable[[Array], Any],
    lattice: Lattice,
    samples: ArrayLike | None,
    cube: ArrayLike | None = None,
    to_lab: ToLab | None = None,
) -> Report:
    """Colour differences of both lookups on stills and cube.

    Parameters
    ----------
    pipeline
        The exact look; ``to_lab`` may be left out when it states its output.
    lattice
        The LUT judged.
    samples, cube
        (M, 3) input signal from stills (None: left out) and from the cube (None: an even spread of 60000).

    Returns
    -------
    ``{"stills": Fidelity, "cube": Fidelity}``, each with mean, 95th and 99th percentile and maximum.
    """
    if to_lab is None:
        to_lab = lab_of(pipeline.output)  # type: ignore[attr-defined]
    sets = {"stills": _colours(samples), "cube": spread(CHECKED, 3, 2) if cube is None else _colours(cube)}
    return {name: fidelity(pipeline, lattice, points, to_lab) for name, points in sets.items() if len(points)}


def _colours(samples: ArrayLike | None) -> Array:
    if samples is None:
        return np.empty((0, 3))
    points = np.asarray(samples, dtype=np.float64).reshape(-1, 3)
    if np.isnan(points).any():
        raise PictureError("samples", "NaN among the colours", "numbers")
    return points


class _Told:
    """Progress in hundredths."""

    def __init__(self, progress: Progress | None) -> None:
        self._progress = progress

    def __call__(self, hundredths: int) -> None:
        if self._progress is not None:
            self._progress(hundredths, 100)


class _Job:
    """One refinement: the look, its plain lattice, and what both are judged by."""

    def __init__(
        self,
        look: Callable[[Array], Any],
        plain: Lattice,
        to_lab: ToLab,
        ends: tuple[float, float] | None,
        run: Run,
        bound: float,
    ) -> None:
        self.look, self.plain, self.to_lab, self.ends, self.run, self.bound = look, plain, to_lab, ends, run, bound
        self.size = plain.size
        self.values = plain.table.reshape(-1, 3)
        self.neutral = np.arange(self.size) * (self.size**2 + self.size + 1)
        self.lab = self.over(to_lab, self.values)

    def over(self, function: Callable[[Array], Any], points: Array) -> Array:
        """``function`` of (M, 3) in fixed parts on threads."""
        parts = self.run(lambda part: np.asarray(function(points[part]), np.float64), parts_of(len(points), CHUNK))
        return np.concatenate(parts)

    def limited(self, displacement: Array) -> Array:
        """(N, 3) values within the ends of the signal, neutral points exact."""
        values = self.values + displacement
        if self.ends is not None:
            # Plain values stay where they are, even if a look oversteps its own ends.
            values = np.clip(values, np.minimum(self.ends[0], self.values), np.maximum(self.ends[1], self.values))
        values[self.neutral] = self.values[self.neutral]
        return values

    def fitted(self, stills: Array, seed: int, told: _Told) -> Array:
        """(N, 3) displacements by weighted least squares, no point moved further than the bound allows."""
        size = self.size
        cells = (size - 1) ** 3
        each = max(1, min(32, round(_CUBE_SAMPLES / cells)))
        cube = per_cell(size, each, seed) if cells <= _MOST_CELLS else spread(_MOST_CELLS, 3, seed)
        sets = ((stills, _STILLS), (cube, _CUBE), (neutrals(size, 4), _NEUTRAL))
        points = np.concatenate([p for p, _ in sets])
        weight = np.concatenate([np.full(len(p), w / max(len(p), 1)) for p, w in sets])
        # Neighbours in the lattice become neighbours in memory.
        order = np.argsort(cell_of(size, points), kind="stable")
        points, weight = points[order], weight[order]
        exact = self.over(self.look, points)
        told(45)
        sensitive = np.concatenate(
            self.run(lambda part: sensitivity(exact[part], self.to_lab), parts_of(len(points), CHUNK)), axis=1
        )
        fit = Fit(size, points, sensitive, self.run)
        told(55)
        residual = exact - fit.looked_up(self.values)
        free = np.ones(size**3, bool)
        free[self.neutral] = False
        weights = weight * _SHARES
        moved = np.zeros_like(self.values)
        scale = np.ones_like(weights)
        for turn in range(_ROUNDS):
            scale *= weights.sum() / (weights * scale).sum()
            moved = fit.solve(residual, weights * scale, moved, free, _ITERATIONS, _HOLD, _SMOOTH)
            moved, capped = self.capped(moved)
            # Points at their limit stay there, and the others make up for them in the next round.
            free &= ~capped
            told(62 + 6 * turn)
            left = fit.size_of(residual - fit.looked_up(moved))
            scale = 1.0 / np.sqrt(left**2 + _SOFT**2)
        return moved

    def capped(self, displacement: Array) -> tuple[Array, NDArray[np.bool_]]:
        """Displacements shortened until none exceeds the bound, and which were.

        A lookup in the refined lattice differs from one in the plain lattice by a mean of the displacements of
        the cell's corners, so a bound on these bounds that difference at every colour.
        """
        out = displacement.copy()
        cap = 0.9 * self.bound
        over = np.zeros(len(out), bool)
        for _ in range(6):  # CIEDE2000 is not quite proportional to the displacement
            move = ciede2000(self.lab, self.over(self.to_lab, self.limited(out)))
            far = move > cap
            over |= far
            if not far.any():
                break
            out[far] *= (0.99 * cap / move[far])[:, None]
        return out, over

    def lattice(self, displacement: Array) -> Lattice:
        values = np.round(self.limited(displacement), DIGITS)
        values[self.neutral] = self.values[self.neutral]
        return Lattice(values.reshape(self.plain.table.shape), title=self.plain.title)

    def checked(self, moved: Array, sets: dict[str, Array], drawn: Array, seed: int, told: _Told) -> Refined:
        """Shorten displacements in the cells of any colour that breaks the bound; then report."""
        points = np.concatenate(list(sets.values()))
        wanted = self.over(lambda p: self.to_lab(self.look(p)), points)
        told(85)
        before = self.differences(self.plain, points, wanted)
        cells = cell_of(self.size, points)
        n = self.size
        corners = np.array([(i * n + j) * n + k for i in (0, 1) for j in (0, 1) for k in (0, 1)])
        for attempt in range(12):
            lattice = self.lattice(moved)
            after = self.differences(lattice, points, wanted)
            worse = (after - before).max(axis=0)
            broken = worse > _MARGIN * self.bound
            if not broken.any():
                break
            # The last attempts give the cell up.
            share = 0.9 * self.bound / worse[broken] if attempt < 8 else np.zeros(int(broken.sum()))
            factor = np.ones(len(moved))
            np.minimum.at(factor, cells[broken][:, None] + corners, share[:, None])
            moved = moved * factor[:, None]
        told(100)
        return Refined(
            lattice,
            self.plain,
            _reports(after, sets),
            _reports(before, sets),
            self.bound,
            float(worse.max()),
            seed,
            len(drawn),
            fingerprint(drawn) if len(drawn) else "",
        )

    def differences(self, lattice: Lattice, points: Array, wanted: Array) -> Array:
        """(2, M) CIEDE2000 of the trilinear and the tetrahedral lookup."""

        def one(part: slice) -> Array:
            found = (lookup(lattice, points[part], name) for name in ("trilinear", "tetrahedral"))
            return np.stack([ciede2000(wanted[part], self.to_lab(f)) for f in found])

        return np.concatenate(self.run(one, parts_of(len(points), CHUNK)), axis=1)


def _reports(differences: Array, sets: dict[str, Array]) -> Report:
    out: Report = {}
    start = 0
    for name, points in sets.items():
        part = differences[:, start : start + len(points)]
        if name != "edges":
            out[name] = Fidelity(_deviation(part[0]), _deviation(part[1]), len(points))
        start += len(points)
    return out
