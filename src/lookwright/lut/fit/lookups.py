"""Both lookups of many colours in lattices of one size, and what such lookups give back to the lattice points."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from lookwright.arrays import Array

from .threads import Run, parts_of
from .weights import both_weights

_COLOURS = 1 << 13
"""Of a slice: what is worked out for them stays in the cache."""
_AT_ONCE = 16
"""Slices whose sums wait to be added up: a fixed number, so that memory does not grow with that of the colours."""


@dataclass(frozen=True)
class Slice:
    """Some of the colours, one after the other."""

    part: slice
    points: slice
    """The lattice points that they have a share in, and those between: few, where colours lie in the order of cells."""
    shares: Any
    """(2 x colours, points) CSR: of trilinear lookups, and below them of tetrahedral ones."""
    back: Any
    """The same turned over, (points, 2 x colours) CSC, on the same memory."""


class Lookups:
    """The lookups of fixed colours. Nothing here depends on a lattice's values, so fits to the same colours share it.

    Parameters
    ----------
    size
        Points per axis of the lattices.
    points
        (M, 3) colours in 0..1, best in the order of their cells.
    run
        How to spread work over threads.
    """

    def __init__(self, size: int, points: Array, run: Run) -> None:
        self.size, self.nodes, self.count = size, size**3, len(points)

        def one(part: slice) -> Slice:
            shares = both_weights(size, points[part])
            first, last = int(shares.indices.min()), int(shares.indices.max())
            inside = (shares.data, shares.indices - first, shares.indptr)
            shares = type(shares)(inside, shape=(shares.shape[0], last + 1 - first))
            return Slice(part, slice(first, last + 1), shares, shares.T)

        self.slices: list[Slice] = run(one, parts_of(self.count, _COLOURS))

    def forth(self, values: Array, run: Run) -> Array:
        """(N, 3) values of lattice points to (2, M, 3): trilinear, then tetrahedral, at the colours."""
        out = np.empty((2, self.count, 3))

        def one(at: Slice) -> None:
            out[:, at.part] = (at.shares @ values[at.points]).reshape(2, -1, 3)

        run(one, self.slices)
        return out

    def back(self, values: Callable[[Slice], Array], columns: int, run: Run, squared: bool = False) -> Array:
        """(N, columns) sums over the colours, of their ``values`` times the share that a lattice point has in them.

        Parameters
        ----------
        values
            Gives those of a slice's colours, (2 x colours, columns): for trilinear, and below them for tetrahedral
            lookups.
        squared
            Times the squares of the shares.
        """
        out = np.zeros((self.nodes, columns))

        def one(at: Slice) -> Array:
            back = at.back
            if squared:
                back = type(back)((back.data**2, back.indices, back.indptr), shape=back.shape)
            return np.asarray(back @ values(at))

        # Slice by slice, so that what stands between stays in the cache, and added in one order, whatever the threads.
        for some in parts_of(len(self.slices), _AT_ONCE):
            for at, found in zip(self.slices[some], run(one, self.slices[some]), strict=True):
                out[at.points] += found
        return out
