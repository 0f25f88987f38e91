"""The exposure map in steps as a 3D LUT, and where its borders come to lie."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.lut.lattices.interpolate import tetrahedral, trilinear
from lookwright.lut.lattices.lattice import Lattice, sample

from .stepped import Steps

Values = Callable[[Array], Array]
"""Code values (N, 3) to what the steps count (N,): stops or percent."""

_RAMP = 32769
"""Greys tried between code 0 and 1 to find the borders: two for each 14-bit code."""


@dataclass(frozen=True)
class Border:
    """One border of the map."""

    asked: float
    """In the unit of the steps."""
    lies: float | None
    """Where a tetrahedral lookup in the LUT has it, for grey; None where no code of the signal reaches it."""
    code: float | None
    """The code value 0..1 at which it lies."""
    trilinear: float | None
    """Where a trilinear lookup has it."""

    @property
    def error(self) -> float | None:
        """How far off it is, by the worse of the two lookups."""
        if self.lies is None or self.trilinear is None:
            return None
        return max(self.lies - self.asked, self.trilinear - self.asked, key=abs)


def map_lattice(
    values: Values, grey: Values, steps: Steps, size: int, off: Collection[int] = (), title: str = ""
) -> Lattice:
    """Sample the map on ``size`` points a side.

    A step has a sharp border and a lattice none: between two points it can only pass over. So the points themselves
    take a colour between the two steps' in proportion to how near the border is, over the width of one cell: then the
    middle of the passage lies on the border wherever that falls between the points, and not in the middle of a cell.

    ``grey`` gives the picture's luma 0..1, which steps that are ``off`` (numbers from 0) show.
    """
    half = 0.5 / (size - 1)

    def look(codes: Array) -> Array:
        here = values(codes)
        over, under = values(np.clip(codes + half, 0.0, 1.0)), values(np.clip(codes - half, 0.0, 1.0))
        width = np.maximum(np.abs(over - under), 1e-9)
        shown = np.repeat(steps.colours[None], len(codes), axis=0)
        if off:
            shown[:, list(off)] = np.clip(grey(codes), 0.0, 1.0)[:, None, None]
        out = shown[:, 0]
        for i, border in enumerate(steps.bounds):
            part = np.clip(0.5 + (here - border) / width, 0.0, 1.0)[:, None]
            out = out + part * (shown[:, i + 1] - shown[:, i])
        return np.clip(out, 0.0, 1.0)

    return sample(look, size, title=title)


def borders_of(lattice: Lattice, values: Values, steps: Steps) -> list[Border]:
    """Where each border lies for greys through the LUT, read by the nearest colour; steps switched off have none."""
    codes = np.linspace(0.0, 1.0, _RAMP)
    greys = np.repeat(codes[:, None], 3, axis=1)
    known = values(greys)
    places = []
    for lookup in (tetrahedral, trilinear):
        step = nearest_step(lookup(lattice, greys), steps)
        places.append([_first_over(step, i) for i in range(len(steps.bounds))])
    out = []
    for asked, here, other in zip(steps.bounds, *places, strict=True):
        if here is None or other is None:
            out.append(Border(asked, None, None, None))
        else:
            between = [float((known[i - 1] + known[i]) / 2.0) for i in (here, other)]
            out.append(Border(asked, between[0], float(codes[here]), between[1]))
    return out


def _first_over(step: Array, border: int) -> int | None:
    """The first grey above a border; None where there is none below it or above it."""
    above = np.flatnonzero(step > border)
    if not len(above) or above[0] == 0 or step[above[0] - 1] > border:
        return None
    return int(above[0])


def nearest_step(colours: Array, steps: Steps) -> Array:
    """Which step's colour is nearest to each of (..., 3) code values."""
    best = np.full(colours.shape[:-1], np.inf)
    out = np.zeros(colours.shape[:-1], int)
    for i, colour in enumerate(steps.colours):
        gap = ((colours - colour) ** 2).sum(axis=-1)
        closer = gap < best
        out[closer], best[closer] = i, gap[closer]
    return out
