"""Lattice values that err less than plain samples of the look, for either lookup and on content never seen.

A plainly sampled lattice is exact at its points and errs to one side between them. Moving the points a little, so
that the errors fall to both sides, makes them smaller everywhere. The values are chosen by smooth least squares
against the exact look, over natural colours in every cell (prior.py) with the stills as a hint, for trilinear and
tetrahedral lookups together, since nobody knows which one the file will meet.

How much the stills count is chosen by leaving whole stills out, and how much either lookup by the ratios to plain
sampling on colours that were not fitted to. Where that ratio stays above one the displacements shrink, to nothing if
need be. The report is made on colours that played no part in any of this (judge.py, shares.py). What is held besides:
lattice points on the neutral axis keep their exact values; no colour gets worse by more than a stated bound; no
tetrahedron folds that the plain lattice leaves upright (limits.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.lut.lattices.lattice import Lattice, Progress, sample
from lookwright.lut.lattices.samples import LARGEST_SEED, fingerprint

from .appearance import ToLab, lab_of, of_look
from .choice import Choice
from .fidelity import Report
from .judge import Judge, content
from .limits import Limits
from .prior import Prior, natural, prior_of
from .problem import Problem
from .shares import as_stills, shared
from .threads import Run, in_turn, on_threads

BOUND = 1.5
"""CIEDE2000 by which a refined lattice may be worse than a plain one at any colour."""

SEEDS = range(1, LARGEST_SEED - 1)
"""Seeds of a fit. Choices in it take the next two; 0 is that of reports (judge.py)."""


@dataclass(frozen=True)
class Chosen:
    """A lattice whose values were chosen."""

    lattice: Lattice
    plain: Lattice
    """The plainly sampled lattice it was made from."""
    bound: float
    worst: float
    """Most by which any colour is worse than with ``plain``, in CIEDE2000, of those that the bound was held at."""
    seed: int
    samples: int
    """Samples from stills, 0 for none."""
    fingerprint: str
    """Names the samples from stills; empty for none."""
    hint: float
    """Share of the stills in the whole weight."""

    @property
    def made_by(self) -> str:
        """One line for a file header: how the values were chosen, so that the same can be done again."""
        drawn = f"{self.samples} pixels of stills ({self.fingerprint})" if self.samples else "no stills"
        return f"Refined by least squares, bound {self.bound:g} CIEDE2000, seed {self.seed}, {drawn}"


@dataclass(frozen=True)
class Refined(Chosen):
    """A refined lattice with the evidence for it; ``worst`` is of the colours of the report too."""

    report: Report
    """Colour differences of ``lattice`` from the exact look, at colours that neither the fit nor any choice in it has
    seen: other pixels of the ``stills``, stills ``left_out`` whole (where two or more are given), an independent draw
    of ``natural`` colours, the whole ``cube``."""
    plain_report: Report
    """The same of ``plain``."""


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
    prior: Prior | None = None,
) -> Refined:
    """Choose lattice values by least squares, and report on them beside plain sampling.

    Parameters and errors are those of :func:`choose`. Returns the lattice, values rounded to 5 decimals, neutral points
    exact; and the reports.
    """
    to_lab, ends, title = of_look(pipeline, to_lab, ends, title)
    prior = prior or prior_of(pipeline)
    drawn = as_stills(samples)
    told = None if progress is None else lambda done, total: progress(done * _CHOSEN_BY // total, 100)
    made = choose(pipeline, size, drawn, seed, told, threads, bound, to_lab, ends, title, prior)
    # The look is asked about the colours of the report only now, when nothing can follow from them.
    with on_threads(threads) as run:
        judge = Judge(pipeline, to_lab, content(drawn, prior), run)
        before, after = judge.differences(made.plain), judge.differences(made.lattice)
    if progress is not None:
        progress(100, 100)
    worst = max(made.worst, float((after - before).max()))
    return Refined(**{**vars(made), "worst": worst}, report=judge.report(after), plain_report=judge.report(before))


_CHOSEN_BY = 95
"""Hundredths of the work after which the lattice is there, and the report is made."""


def choose(
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
) -> Chosen:
    """:func:`refine` without its report.

    Parameters
    ----------
    pipeline
        The look: (M, 3) float64 input signal in 0..1 to (M, 3) output signal. Called from several threads.
    size
        Points per axis, 2 to 129.
    samples
        (stills, M, 3) input signal from the stills (``sample_stills``); (M, 3) counts as one still; None or empty
        for none. Two in five, and of two stills or more the last (one in five), are not fitted to but kept for
        choices and for the report. Values outside 0..1 are clipped.
    seed
        1 to 999 998: shifts the fitted colours of the cube. 0 is that of the report.
    progress
        Called in this thread as ``progress(done, 100)``.
    threads
        Worker threads; all cores when None. The result does not depend on it.
    bound
        Most by which any colour may be worse than with plain sampling, in CIEDE2000.
    to_lab, ends, title
        Output signal to CIELAB, and the lowest and highest value the output may have (None: no limits); both
        follow from ``pipeline.output`` where ``to_lab`` is None. The title goes into the lattice.
    prior
        Weight of input colours, (M, 3) to (M,) in 0..1. None: natural colours of ``pipeline.source``, and all colours
        alike where it states none.

    Raises
    ------
    LutFileError
        For a wrong size, or a look that gives values that are not finite.
    PictureError
        For NaN among the samples.
    """
    to_lab, ends, title = of_look(pipeline, to_lab, ends, title)
    if seed not in SEEDS:
        raise ValueError(f"seed {seed}, expected {SEEDS[0]} to {SEEDS[-1]}")
    told, drawn, prior = _Told(progress), as_stills(samples), prior or prior_of(pipeline)
    plain = sample(pipeline, size, threads=threads, title=title)
    told(10)
    with on_threads(threads) as run:
        limits = Limits(plain, to_lab, ends, bound, run)
        lattice, worst, hint = _chosen(pipeline, plain, to_lab, prior, drawn, seed, limits, run, told)
    told(100)
    flat = drawn.reshape(-1, 3)
    return Chosen(lattice, plain, bound, worst, seed, len(flat), fingerprint(flat) if len(flat) else "", hint)


def _chosen(
    look: Callable[[Array], Any],
    plain: Lattice,
    to_lab: ToLab,
    prior: Prior,
    drawn: Array,
    seed: int,
    limits: Limits,
    run: Run,
    told: _Told,
) -> tuple[Lattice, float, float]:
    """The lattice, the most by which a colour is worse, and the share of the stills."""
    shares = shared(drawn)
    choice = Choice(look, plain, to_lab, prior, shares.chosen, seed, run)
    told(20)
    problem = Problem(look, plain, to_lab, prior, shares.fitted, limits.free, seed, run)
    told(45)
    hint, near = choice.chosen_hint(problem, limits)
    told(65)
    moved = choice.chosen_mixture(problem, limits, hint, near)
    told(80)
    return *choice.finished(moved, limits), hint


def report(
    pipeline: Callable[[Array], Any],
    lattice: Lattice,
    samples: ArrayLike | None,
    cube: ArrayLike | None = None,
    to_lab: ToLab | None = None,
    prior: Prior | None = None,
) -> Report:
    """Colour differences of both lookups at the colours that the report of a refinement is made of.

    Parameters
    ----------
    pipeline
        The exact look; ``to_lab`` may be left out when it states its output.
    lattice
        The LUT judged.
    samples
        As for :func:`refine`: all that was given, of which the pixels and stills kept for reports are judged.
    cube
        (..., 3) input signal; None: an even spread of 30000.
    prior
        Weight of input colours, for a draw of 20000; None: natural colours where ``pipeline`` states its source,
        else no draw.

    Returns
    -------
    ``{"stills", "left_out", "natural", "cube": Fidelity}``, each with mean, 95th and 99th percentile, maximum, and mean
    plus three standard deviations.
    """
    if to_lab is None:
        to_lab = lab_of(pipeline.output)  # type: ignore[attr-defined]
    source = getattr(pipeline, "source", None)
    if prior is None and source is not None:
        prior = natural(source)
    colours = None if cube is None else np.asarray(cube, dtype=np.float64).reshape(-1, 3)
    judge = Judge(pipeline, to_lab, content(as_stills(samples), prior, colours), in_turn)
    return judge.report(judge.differences(lattice))


class _Told:
    """Progress in hundredths."""

    def __init__(self, progress: Progress | None) -> None:
        self._progress = progress

    def __call__(self, hundredths: int) -> None:
        if self._progress is not None:
            self._progress(hundredths, 100)
