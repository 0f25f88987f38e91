"""Any LUT file as a function of signal, chosen by its ending."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import LutFileError
from .cube import read_cube
from .interpolate import linear, lookup
from .lattice import Curves, Lattice

Array = NDArray[np.float64]
LutFunction = Callable[[Array, str], Array]


def read_lut(path: str | os.PathLike[str]) -> LutFunction:
    """Read a LUT and return ``f(signal, interpolation)``; input is clamped to the LUT's domain.

    Raises :class:`LutFileError` with file and line.
    """
    suffix = Path(path).suffix.lower()
    if suffix != ".cube":
        raise LutFileError(str(path), f"cannot read LUT files ending in {suffix or 'nothing'!r}", "a .cube file")
    file = read_cube(path)
    parts: list[Curves | Lattice] = [p for p in (file.curves, file.lattice) if p is not None]

    def apply(signal: Array, interpolation: str) -> Array:
        for part in parts:
            signal = lookup(part, signal, interpolation) if isinstance(part, Lattice) else linear(part, signal)
        return signal

    return apply
