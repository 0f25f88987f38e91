"""Any LUT file as a function of signal, chosen by its ending."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np

from lookwright.arrays import Array
from lookwright.errors import LutFileError
from lookwright.lut.lattices.interpolate import linear, lookup
from lookwright.lut.lattices.lattice import Curves, Lattice

from .cdl import read_cdl
from .clf import read_clf
from .cube import read_cube
from .hald import read_hald

LutFunction = Callable[[Array, str], Array]


SUFFIXES = (".cube", ".clf", ".cc", ".ccc", ".cdl", ".png", ".tif", ".tiff")
"""Endings of the files read here; pictures are taken as Hald CLUTs."""


def read_lut(path: os.PathLike[str] | str) -> LutFunction:
    """Read a LUT and return ``f(signal, interpolation)``.

    ``.cube`` (1D, 3D, with any domain), ``.clf``, ASC CDL (not clamped; a collection must hold a single correction)
    and Hald CLUTs. Lattices and curves clamp input to their domain. An interpolation that a .clf states is obeyed.

    Raises :class:`LutFileError` with file and line. The function raises it too, for finite colours that a formula in
    the file (a power, an antilogarithm) sends beyond all numbers.
    """
    table = _read(path)

    def apply(signal: Array, interpolation: str) -> Array:
        with np.errstate(over="ignore", invalid="ignore"):
            result = table(signal, interpolation)
        if not np.isfinite(result).all() and np.isfinite(signal).all():
            raise LutFileError(
                str(path), "gives infinite values or NaN for some colours", "finite numbers", "check its powers"
            )
        return result

    return apply


def _read(path: os.PathLike[str] | str) -> LutFunction:
    suffix = Path(path).suffix.lower()
    if suffix == ".clf":
        return read_clf(path)
    if suffix in (".cc", ".ccc", ".cdl"):
        return _cdl(path)
    if suffix in (".png", ".tif", ".tiff"):
        return _chain([read_hald(path)])
    if suffix != ".cube":
        raise LutFileError(
            str(path), f"cannot read LUT files ending in {suffix or 'nothing'!r}", "one of " + ", ".join(SUFFIXES)
        )
    file = read_cube(path)
    return _chain([p for p in (file.curves, file.lattice) if p is not None])


def _chain(parts: list[Curves | Lattice]) -> LutFunction:
    def apply(signal: Array, interpolation: str) -> Array:
        for part in parts:
            signal = lookup(part, signal, interpolation) if isinstance(part, Lattice) else linear(part, signal)
        return signal

    return apply


def _cdl(path: os.PathLike[str] | str) -> LutFunction:
    corrections = read_cdl(path)
    if len(corrections) > 1:
        names = ", ".join(c.id or "(no id)" for c in corrections[:6])
        raise LutFileError(
            str(path), f"holds {len(corrections)} corrections ({names})", "one", "save the one you mean as a .cc"
        )
    return lambda signal, interpolation: corrections[0](signal)
