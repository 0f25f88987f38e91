"""The lattices of a delivery, fitted side by side while the files of those that are done are written."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from types import TracebackType
from typing import Any

from lookwright.arrays import Array
from lookwright.look.baking.bake import bake
from lookwright.look.recipe.pipeline import Pipeline
from lookwright.lut.fit.fidelity import Report
from lookwright.lut.fit.refine import choose, report
from lookwright.lut.fit.shaper import refine_shaped, report_shaped
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Curves, Lattice

MOST = 4
"""Lattices at once: one of 65 points needs some 400 MB."""


@dataclass(frozen=True)
class Fitted:
    """A lattice, or a curve with a lattice behind it, and what is known of it."""

    lattice: Lattice
    errors: Report
    made_by: str
    """For the header; empty for one that was sampled plainly."""
    shaper: Curves | None
    shows: Callable[[Array], Array]
    """(M, 3) source signal to output signal, by the tetrahedral lookup."""


class Stopped(Exception):
    """The delivery came to an end, and what was still being fitted for it is not wanted."""


class Fitting:
    """Work that is begun early and asked for later; within a ``with`` block, at whose end nothing of it goes on.

    Parameters
    ----------
    refined
        False: plainly sampled lattices.
    check
        Called between pieces, from any thread; may raise, and so stop the work.
    threads
        In all; None: all cores. Results do not depend on it.
    """

    def __init__(self, refined: bool, check: Callable[[], None], threads: int | None) -> None:
        cores = threads or os.cpu_count() or 1
        at_once = min(cores, MOST)
        self._refined, self._check, self._each = refined, check, max(1, cores // at_once)
        self._pool = ThreadPoolExecutor(at_once)
        self._over = False

    def __enter__(self) -> Fitting:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        self._over = True
        self._pool.shutdown(cancel_futures=True)

    def step(self, done: int, total: int) -> None:
        """Between two pieces of work."""
        self._check()
        if self._over:
            raise Stopped

    def beside(self, work: Callable[..., Any], *given: Any) -> Future[Any]:
        """Any other work, in its turn."""
        return self._pool.submit(work, *given)

    def lattice(self, pipeline: Pipeline, size: int, samples: Array) -> Future[Fitted]:
        """A lattice of ``size`` points of what a LUT carries of the look."""
        return self._pool.submit(self._lattice, pipeline, size, samples)

    def shaped(self, pipeline: Pipeline, size: int, samples: Array) -> Future[Fitted]:
        """A curve with a lattice behind it; the lattice alone where nothing is refined."""
        return self._pool.submit(self._shaped if self._refined else self._lattice, pipeline, size, samples)

    def plain(self, pipeline: Pipeline, size: int) -> Future[Lattice]:
        """A plainly sampled lattice."""
        return self._pool.submit(bake, pipeline, size, self.step, self._each)

    def _lattice(self, pipeline: Pipeline, size: int, samples: Array) -> Fitted:
        if self._refined:
            done = choose(pipeline, size, samples, progress=self.step, threads=self._each)
            lattice, made_by = done.lattice, done.made_by
        else:
            lattice, made_by = bake(pipeline, size, self.step, self._each), ""
        errors = report(pipeline, lattice, samples)
        return Fitted(lattice, errors, made_by, None, lambda x: lookup(lattice, x))

    def _shaped(self, pipeline: Pipeline, size: int, samples: Array) -> Fitted:
        lut, done = refine_shaped(pipeline, size, samples, progress=self.step, threads=self._each)
        errors = report_shaped(pipeline, lut, samples)
        return Fitted(lut.lattice, errors, done.made_by, lut.shaper, lambda x: lut(x))
