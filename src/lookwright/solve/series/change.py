"""A change of the light itself between two framings: what one exposure, balance, flare and lens cannot explain, and
that whole regions have in common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from lookwright.arrays import Array

from .features import Shared
from .fit import Fitted
from .places import where

NEIGHBOURS = 12
"""Surfaces round each that are asked whether they err alike."""

APART = 0.07
"""Half widths between two surfaces that share no pixel: twice a patch."""

GRID = (18, 32)
"""Cells of the picture in which a place is told."""


@dataclass(frozen=True)
class Coherent:
    """``stops``: root mean square of what neighbours have in common in the residuals. ``cells`` (18, 32) of it, signed,
    in the second frame; NaN where nothing is shared. ``noise``: stops by which a surface is unlike its neighbours."""

    stops: float
    cells: Array
    noise: float

    def place(self, least: float) -> str:
        """Where it is larger than ``least`` stops, in words, and which way."""
        known = np.nan_to_num(self.cells)
        up, down = known > least, known < -least
        side, way = (up, "brighter") if up.sum() >= down.sum() else (down, "darker")
        if not side.any():
            return where(np.abs(known) >= np.abs(known).max())
        return f"{way} {where(side)}"


def coherent(both: Shared, fitted: Fitted) -> Coherent:
    """How far the residuals of a fit are alike in neighbours that share no pixel.

    The mean product of each residual with the mean of its neighbours (Moran 1950): noise and misplaced edges give
    none, another light does. Residuals are cut at one stop, so that what entered the frame does not decide.
    """
    left = np.clip(fitted.residual, -1.0, 1.0)
    left = left - np.median(left, axis=0)
    tree = cKDTree(both.at_second)
    count = min(len(left), 4 * NEIGHBOURS + 1)
    far, near = tree.query(both.at_second, k=count)
    far, near = far[:, 1:], near[:, 1:]
    use = (far > APART) & (far < 5.0 * APART)
    use &= np.cumsum(use, axis=1) <= NEIGHBOURS
    total = use.sum(axis=1)
    mean = (left[near] * use[..., None]).sum(axis=1) / np.maximum(total, 1)[:, None]
    good = total >= 4
    product = (left * mean).sum(axis=1) / 3.0
    size = float(np.mean(product[good])) if good.sum() >= 12 else 0.0
    # The scale of a normal distribution from its mean absolute deviation.
    noise = 1.25 * float(np.median(np.abs(left - mean)[good].mean(axis=1))) if good.sum() >= 12 else 0.0
    return Coherent(float(np.sqrt(max(size, 0.0))), _cells(both.at_second, mean.mean(axis=1), good), noise)


def _cells(at: Array, values: Array, good: Array) -> Array:
    high, wide = GRID
    column = np.clip(((at[:, 0] + 1.0) / 2.0 * wide).astype(int), 0, wide - 1)
    top = max(float(np.abs(at[:, 1]).max()), 0.5)
    row = np.clip(((at[:, 1] / top + 1.0) / 2.0 * high).astype(int), 0, high - 1)
    total, count = np.zeros(GRID), np.zeros(GRID)
    np.add.at(total, (row[good], column[good]), values[good])
    np.add.at(count, (row[good], column[good]), 1.0)
    return np.where(count > 0, total / np.maximum(count, 1.0), np.nan)
