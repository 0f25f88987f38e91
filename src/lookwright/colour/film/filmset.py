"""The fitted part of the model: layer sensitivities, coupling and dyes as one set of numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array

from .dyes import DyeSet
from .layers import unit_rows

Pair = tuple[float, float]
Triple = tuple[float, float, float]


@dataclass(frozen=True)
class FilmSet:
    """Found by ``python -m lookwright.colour.film.choose``; the rows are red, green, blue layer or C, M, Y dye.

    ``sensitivity``, ``coupling`` and ``sides`` hold the two off-diagonal entries of each row, in
    the order of the columns.
    """

    sensitivity: tuple[Pair, Pair, Pair]
    coupling: tuple[Pair, Pair, Pair]
    centres: Triple
    short: Triple
    long: Triple
    sides: tuple[Pair, Pair, Pair]

    def sensitivity_matrix(self) -> Array:
        """(3, 3) scene light to layer exposure, rows sum to one."""
        return unit_rows(*self.sensitivity)

    def coupling_matrix(self) -> Array:
        """(3, 3) negative densities to coupled densities at amount 1, rows sum to one."""
        return unit_rows(*self.coupling)

    def dyes(self) -> DyeSet:
        """The three absorption bands."""
        (cm, cy), (mc, my), (yc, ym) = self.sides
        return DyeSet(self.centres, self.short, self.long, ((1.0, cm, cy), (mc, 1.0, my), (yc, ym, 1.0)))

    def vector(self) -> Array:
        """(27,) all numbers in the order of the fields."""
        pairs = [*sum(self.sensitivity, ()), *sum(self.coupling, ())]
        return np.array([*pairs, *self.centres, *self.short, *self.long, *sum(self.sides, ())])

    @classmethod
    def from_vector(cls, v: Array) -> FilmSet:
        """The inverse of :meth:`vector`."""
        f = [float(x) for x in v]

        def pairs(i: int) -> tuple[Pair, Pair, Pair]:
            return (f[i], f[i + 1]), (f[i + 2], f[i + 3]), (f[i + 4], f[i + 5])

        def triple(i: int) -> Triple:
            return f[i], f[i + 1], f[i + 2]

        return cls(pairs(0), pairs(6), triple(12), triple(15), triple(18), pairs(21))
