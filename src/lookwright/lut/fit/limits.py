"""What the displacements of a refined lattice are held to, whatever the fit would like."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.lut.lattices.lattice import CHUNK, Lattice

from .appearance import ToLab
from .content import Content
from .folds import FoldBarrier, Places, corners_of
from .threads import Run, parts_of
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
        self._plain, self._ends, self.bound, self._to_lab, self._run = plain, ends, bound, to_lab, run
        self._values = plain.table.reshape(-1, 3)
        parts = parts_of(len(self._values), CHUNK)
        self._lab = np.concatenate(run(lambda part: to_lab(self._values[part]), parts))
        size = plain.size
        self.free: NDArray[np.bool_] = np.ones(self._values.shape, bool)
        """(N, 3) which values may move."""
        if ends is not None:
            self.free = (self._values > ends[0] + _AT_THE_END) & (self._values < ends[1] - _AT_THE_END)
        self.free[np.arange(size) * (size * size + size + 1)] = False
        self._barrier = FoldBarrier(self._values, size, run)

    def values(self, displacement: Array, places: Places = slice(None)) -> Array:
        """(M, 3) values to be written for lattice points (all of them): within the ends of the signal, rounded; plain
        where nothing moved."""
        plain = self._values[places]
        values = plain + displacement
        if self._ends is not None:
            # Plain values stay where they are, even if a look oversteps its own ends.
            low, high = np.minimum(self._ends[0], plain), np.maximum(self._ends[1], plain)
            np.clip(values, low, high, out=values)
        np.round(values, DIGITS, out=values)
        np.copyto(values, plain, where=displacement == 0.0)
        return values

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
        values = self.values(out)

        def moves(places: NDArray[np.intp]) -> Array:
            return ciede2000(self._lab[places], self._to_lab(values[places]))

        every = np.arange(len(out))
        for _ in range(6):  # CIEDE2000 is not quite proportional to the displacement
            parts = [every[part] for part in parts_of(len(every), CHUNK)]
            move = np.concatenate(self._run(moves, parts))
            far = move > cap
            if not far.any():
                break
            every = every[far]  # the others stay as they are
            out[every] *= (0.99 * cap / move[far])[:, None]
            values[every] = self.values(out[every], every)
        return out

    def held(self, displacement: Array, checked: Content, before: Array) -> tuple[Lattice, Array]:
        """The lattice with displacements that keep to the bound at the colours of ``checked`` and add no fold.

        Parameters
        ----------
        displacement
            (N, 3).
        checked, before
            Colours, and the (2, M) differences of the plain lattice there.

        Returns
        -------
        The lattice, and its (2, M) differences at the colours checked.
        """
        cells, corners = cell_of(self._plain.size, checked.points), np.array(corners_of(self._plain.size))
        moved = self._barrier.held(self.capped(displacement), self.values)
        lattice = self.lattice(moved)
        after = checked.differences(lattice)
        for attempt in range(12):
            worse = (after - before).max(axis=0)
            broken = worse > _MARGIN * self.bound
            if not broken.any():
                return lattice, after
            # The last attempts give the cell up.
            share = 0.9 * self.bound / worse[broken] if attempt < 8 else np.zeros(int(broken.sum()))
            factor = np.ones(len(moved))
            np.minimum.at(factor, cells[broken][:, None] + corners, share[:, None])
            moved = self._barrier.held(moved * factor[:, None], self.values)
            last, lattice = lattice, self.lattice(moved)
            near = self._cells_changed(last, lattice)[cells]  # the others stay as they are
            after[:, near] = checked.part(near).differences(lattice)
        return self._plain, before

    def _cells_changed(self, one: Lattice, two: Lattice) -> NDArray[np.bool_]:
        """(N,) by its low corner, whether a cell has a corner at which two lattices differ."""
        point = (one.table != two.table).any(axis=-1).ravel()
        cell = point.copy()
        for offset in corners_of(self._plain.size)[1:]:
            cell[:-offset] |= point[offset:]
        return cell
