"""What the displacements of a refined lattice are held to, whatever the fit would like."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.lut.lattices.lattice import Lattice

from .appearance import ToLab
from .content import Content
from .folds import FoldBarrier
from .threads import Run
from .weights import cell_of

DIGITS = 5
"""Decimals of the values, 0.005 of a 10-bit code. Two sets of releases (numpy 1.26 with scipy 1.11, numpy 2.4 with
scipy 1.17) differ by 7e-16 on average before rounding (measured, 33 points, film print): about one file in 60,000
would have a digit that differs, in 8,000 with 65 points. tests/benchmarks/same_bytes.py compares the bytes."""

_MARGIN = 0.95
"""Share of the bound allowed at the colours checked, so that it holds at those between them too."""
_AT_THE_END = 1e-9


class Limits:
    """Neutral points exact, clipped channels left alone, no colour much worse, no fold added.

    Parameters
    ----------
    plain
        The plainly sampled lattice.
    to_lab
        Output signal to CIELAB.
    ends
        Lowest and highest value of the output signal, or None.
    bound
        Most by which a colour may be worse than with the plain lattice, in CIEDE2000.
    run
        How to spread work over threads.
    """

    def __init__(self, plain: Lattice, to_lab: ToLab, ends: tuple[float, float] | None, bound: float, run: Run) -> None:
        self._plain, self._ends, self.bound, self._to_lab = plain, ends, bound, to_lab
        self._values = plain.table.reshape(-1, 3)
        self._lab = to_lab(self._values)
        size = plain.size
        self.free: NDArray[np.bool_] = np.ones(self._values.shape, bool)
        """(N, 3) which values may move."""
        if ends is not None:
            self.free = (self._values > ends[0] + _AT_THE_END) & (self._values < ends[1] - _AT_THE_END)
        self.free[np.arange(size) * (size * size + size + 1)] = False
        self._barrier = FoldBarrier(self._values, size, run)

    def values(self, displacement: Array) -> Array:
        """(N, 3) values to be written: within the ends of the signal, rounded; plain where nothing moved."""
        values = self._values + displacement
        if self._ends is not None:
            # Plain values stay where they are, even if a look oversteps its own ends.
            low, high = np.minimum(self._ends[0], self._values), np.maximum(self._ends[1], self._values)
            values = np.clip(values, low, high)
        return np.where(displacement == 0.0, self._values, np.round(values, DIGITS))

    def lattice(self, displacement: Array) -> Lattice:
        """The lattice with these displacements (N, 3)."""
        return Lattice(self.values(displacement).reshape(self._plain.table.shape), title=self._plain.title)

    def capped(self, displacement: Array) -> Array:
        """Displacements shortened until none exceeds the bound.

        A lookup in the refined lattice differs from one in the plain lattice by a mean of the displacements of
        the cell's corners, so a bound on these bounds that difference at every colour.
        """
        out = displacement.copy()
        cap = 0.9 * self.bound
        for _ in range(6):  # CIEDE2000 is not quite proportional to the displacement
            move = ciede2000(self._lab, self._to_lab(self.values(out)))
            far = move > cap
            if not far.any():
                break
            out[far] *= (0.99 * cap / move[far])[:, None]
        return out

    def held(self, displacement: Array, checked: Content, before: Array) -> tuple[Array, float]:
        """Displacements that keep to the bound at the colours of ``checked`` and add no fold.

        Parameters
        ----------
        displacement
            (N, 3).
        checked, before
            Colours, and the (2, M) differences of the plain lattice there.

        Returns
        -------
        The displacements, and the most by which any of the colours is worse than with the plain lattice.
        """
        size = self._plain.size
        cells = cell_of(size, checked.points)
        corners = np.array([(i * size + j) * size + k for i in (0, 1) for j in (0, 1) for k in (0, 1)])
        moved = self._barrier.held(self.capped(displacement), self.values)
        for attempt in range(12):
            worse = (checked.differences(self.lattice(moved)) - before).max(axis=0)
            broken = worse > _MARGIN * self.bound
            if not broken.any():
                return moved, float(worse.max())
            # The last attempts give the cell up.
            share = 0.9 * self.bound / worse[broken] if attempt < 8 else np.zeros(int(broken.sum()))
            factor = np.ones(len(moved))
            np.minimum.at(factor, cells[broken][:, None] + corners, share[:, None])
            moved = self._barrier.held(moved * factor[:, None], self.values)
        return np.zeros_like(moved), 0.0
