"""A part of the frame with a role, and why it has it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Mask = NDArray[np.bool_]
Sure = Literal["sure", "likely", "perhaps"]


@dataclass(frozen=True)
class Part:
    """What was found, where, and how sure it is."""

    name: str
    role: str
    """A role of marks, see ``pictures.stills.marks.ROLES``."""
    mask: Mask
    sure: Sure
    reason: str


def graded(margin: float) -> Sure:
    """A margin over what is asked, 0 at the least and 1 at well above, in words; their hit rates are measured in
    tests/benchmarks/breakdown_table.py."""
    return "sure" if margin >= 0.66 else "likely" if margin >= 0.33 else "perhaps"


def innermost(mask: Mask) -> tuple[int, int, float]:
    """Row and column farthest from the mask's edge (the frame's edge counts), and how far, in pixels."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    top, left = int(rows[0]), int(columns[0])
    inside = np.pad(mask[top : int(rows[-1]) + 1, left : int(columns[-1]) + 1], 1)
    # A large zone is measured on every n-th pixel: its middle need not be exact.
    n = 1 + max(inside.shape) // 240
    depth = ndimage.distance_transform_edt(inside if n == 1 else np.pad(inside[::n, ::n], 1))
    found = np.unravel_index(int(np.argmax(depth)), depth.shape)
    row, column = int(found[0]), int(found[1])
    deep = float(depth[row, column])
    if n > 1:
        row, column, deep = (row - 1) * n, (column - 1) * n, (deep - 1.0) * n
    row = min(max(row - 1 + top, 0), mask.shape[0] - 1)
    column = min(max(column - 1 + left, 0), mask.shape[1] - 1)
    return row, column, max(deep, 0.5)


def box_round(row: int, column: int, depth: float, shape: tuple[int, ...]) -> tuple[float, float, float, float]:
    """A square that lies within ``depth`` pixels of a place, (x, y, width, height) in fractions of the frame."""
    height, width = shape[:2]
    half = max(0.5, 0.62 * depth)  # 0.707 would touch the edge with its corners
    x0, x1 = max(0.0, column + 0.5 - half), min(float(width), column + 0.5 + half)
    y0, y1 = max(0.0, row + 0.5 - half), min(float(height), row + 0.5 + half)
    return x0 / width, y0 / height, (x1 - x0) / width, (y1 - y0) / height
