"""A solution held against the check itself: no measure may fail that did not fail, or fail more, at the start."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from lookwright.arrays import Array

from .barrier import Barrier
from .search import Search
from .tidy import rounded


class Hold:
    """The measures of ``check`` at the start, and solutions brought to pass them.

    Parameters
    ----------
    before
        Harm of every measure at the start.
    """

    def __init__(self, search: Search, barrier: Barrier, before: dict[str, float]) -> None:
        self._search, self._barrier, self._before = search, barrier, before
        self._model = search.problem.model

    def worse(self, z: Array) -> dict[str, float]:
        """Measures that fail at z and did not (as much) at the start, to their harm."""
        self._model.move(z)
        harm = self._barrier.all_harm(self._model.function())
        return {n: h for n, h in harm.items() if h > max(0.995, self._before.get(n, 0.0) + 1e-3)}

    def passing(self, z: Array, fixed: list[int]) -> Array:
        """A solution near z that passes and leaves no more than the start; the parameters ``fixed`` stay."""
        z = self._brought_to_pass(z, fixed)
        return self._last_passing(z, fixed) if self._no_help(z) else z

    def _no_help(self, z: Array) -> bool:
        """Whether a solution leaves more than the start: coming back to the limits can end behind where it began."""
        at_start = self._search.problem.at(np.zeros_like(z)).misfit
        return bool(z.any()) and self._search.problem.at(z).misfit > at_start

    def _brought_to_pass(self, z: Array, fixed: list[int]) -> Array:
        if self._barrier.weight <= 0 or not (worse := self.worse(z)):
            return z
        moving = [i for i in range(len(z)) if i not in fixed]
        for _ in range(3):
            # Measures that were not watched join.
            function = self._model.function()
            self._barrier.join(self._barrier.measurements_of(list(worse), function))
            self._barrier.weight *= 4.0
            z = self._search.solve(z, moving, most=8)
            if not (worse := self.worse(z)):
                return z
        return self._last_passing(z, fixed)

    def _last_passing(self, z: Array, fixed: list[int]) -> Array:
        """Of the places on the way here that pass, and those between them and the next that does not, the best."""
        path = [z]
        for place in reversed(self._search.path):
            back = place.copy()
            back[fixed] = 0.0
            path.append(back)
        # The start passes by itself: nothing that leaves more than it does is a solution.
        best = np.zeros_like(z)
        least = self._search.problem.at(best).misfit
        for bad, good in pairwise(path):
            if self._search.problem.at(good).misfit >= least or self.worse(good):
                continue
            best, least = self._nearer(good, bad)
        return self._nearer(best, z)[0]

    def _nearer(self, good: Array, bad: Array) -> tuple[Array, float]:
        """From a place that passes toward one that may not, as far as it passes; or where it was, if no better."""
        low, high = 0.0, 1.0
        for _ in range(5):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if self.worse(good + middle * (bad - good)) else (middle, high)
        moved = good + low * (bad - good)
        at_good, at_moved = (self._search.problem.at(p).misfit for p in (good, moved))
        return (moved, at_moved) if at_moved < at_good else (good, at_good)

    def tidied(self, z: Array) -> Array:
        """z rounded. Where that takes a measure over its limit (hues that run close are steep), more digits stay."""
        passed = not self.worse(z)
        for more in range(0, 7, 2):
            out = rounded(self._model.free, z, more)
            if not passed or self._barrier.weight <= 0 or not self.worse(out):
                return out
        return z
