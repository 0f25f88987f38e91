"""The way back through a look: for an output colour, the source colour that gives it, where one does and only one.

Newton's method with differences, from the nearest of a lattice of known colours. A fixed number of steps, each cut back
to what brings the colour nearer, so that nothing ends on a bracket.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.lut.lattices.lattice import grid

EXACT = 1e-4
"""Of signal: an output colour counts as reached when the source colour found gives it back this closely."""
STEEPEST = 50.0
"""Codes of the source that one code of the output may stand for. A tenth of a stop of ACEScct is 6 codes of 10 bits;
beyond fifty, rounding of the graded picture alone moves the colour by most of a stop."""
_STEPS = 14
_REACH = 1e-5
"""Difference quotients: a hundredth of a 10-bit code."""
_LONGEST = 0.12
"""Largest step of a channel."""
_STARTS = 33
_CHUNK = 16_384

Colours = Callable[[Array], Array]


@dataclass(frozen=True)
class Back:
    """Where output colours come from."""

    source: Array
    """(n, 3) source code values, 0..1: the nearest that was found, also where none gives the colour."""
    reached: NDArray[np.bool_]
    """(n,) whether it gives the colour to :data:`EXACT`."""
    known: NDArray[np.bool_]
    """(n,) whether it is also told apart from its neighbours, within :data:`STEEPEST`, and not clipped."""
    steep: Array
    """(n,) :meth:`Inverse.steepness` there."""


class Inverse:
    """The inverse of ``forward``, (n, 3) code values 0..1 to (n, 3) code values 0..1."""

    def __init__(self, forward: Colours) -> None:
        from scipy.spatial import cKDTree

        self._look = forward
        self._starts = grid(_STARTS).reshape(-1, 3)
        self._tree: Any = cKDTree(self._forward(self._starts))

    def _forward(self, x: Array) -> Array:
        return np.clip(self._look(x), 0.0, 1.0)

    def __call__(self, wanted: Array, advance: Callable[[], None] = lambda: None) -> Back:
        """The way back for (n, 3) output code values."""
        found = []
        for i in range(0, len(wanted), _CHUNK):
            advance()
            found.append(self._back(wanted[i : i + _CHUNK]))
        if not found:
            return Back(np.zeros((0, 3)), np.zeros(0, np.bool_), np.zeros(0, np.bool_), np.zeros(0))
        return Back(*(np.concatenate([getattr(f, n) for f in found]) for n in ("source", "reached", "known", "steep")))

    def _back(self, wanted: Array) -> Back:
        x = self._starts[self._tree.query(wanted)[1]]
        off = wanted - self._forward(x)
        for _ in range(_STEPS):
            busy = np.flatnonzero(np.abs(off).max(axis=1) > 0.01 * EXACT)
            if not len(busy):
                break
            self._step(x, off, wanted, busy)
        reached = np.abs(off).max(axis=1) <= EXACT
        steep = self.steepness(x)
        known = reached & (steep < STEEPEST) & self.inside(wanted)
        return Back(x, reached, known, steep)

    def _step(self, x: Array, off: Array, wanted: Array, busy: NDArray[np.intp]) -> None:
        """One step for the colours ``busy``, cut to a half and a quarter where the whole would lead away; in place."""
        slope = self.slopes(x[busy])
        # A little damping: where the look is flat there is no way to tell a direction.
        square = slope.transpose(0, 2, 1) @ slope + 1e-9 * np.eye(3)
        step = np.linalg.solve(square, slope.transpose(0, 2, 1) @ off[busy][:, :, None])[:, :, 0]
        step *= np.minimum(1.0, _LONGEST / np.maximum(np.abs(step).max(axis=1), 1e-12))[:, None]
        for share in (1.0, 0.5, 0.2):
            trial = np.clip(x[busy] + share * step, 0.0, 1.0)
            left = wanted[busy] - self._forward(trial)
            better = np.abs(left).max(axis=1) < np.abs(off[busy]).max(axis=1)
            x[busy[better]], off[busy[better]] = trial[better], left[better]
            busy, step = busy[~better], step[~better]
            if not len(busy):
                return

    def slopes(self, x: Array) -> Array:
        """(n, 3, 3) change of every output channel with every source channel."""
        here, columns = self._forward(x), []
        for c in range(3):
            reach = np.where(x[:, c] > 0.5, -_REACH, _REACH)
            moved = x.copy()
            moved[:, c] += reach
            columns.append((self._forward(moved) - here) / reach[:, None])
        return np.stack(columns, axis=-1)

    def steepness(self, x: Array) -> Array:
        """(n,) codes of the source that one code of the output may stand for, at (n, 3) source code values."""
        smallest = np.linalg.svd(self.slopes(x), compute_uv=False)[:, -1]
        return np.asarray(1.0 / np.maximum(smallest, 1e-9))

    @staticmethod
    def inside(wanted: Array) -> NDArray[np.bool_]:
        """Clear of black and of the peak in every channel: at them, other colours are clipped to the same."""
        return np.asarray(((wanted > EXACT) & (wanted < 1.0 - EXACT)).all(axis=1))
