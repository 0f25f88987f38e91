"""Any LUT file as a function of signal, and as what OpenColorIO makes of it, chosen by its ending.

Every file is read here first, strictly. What OpenColorIO then gets is, for a .clf, the very bytes that were checked;
for the rest the numbers that were read, as its own transforms in memory: it would try other formats on a file that its
reader for the ending refuses, and remembers files by their path.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.errors import LutFileError, WrongUse
from lookwright.lut.lattices.apply import cpu_processor, ocio_transform
from lookwright.lut.lattices.interpolate import linear, lookup
from lookwright.lut.lattices.lattice import Curves, Lattice, Tables

from .cdl import SUFFIXES as CDL_SUFFIXES
from .cdl import ocio_correction, pick, read_cdl
from .clf import read_clf
from .cube import read_cube
from .hald import read_hald

LutFunction = Callable[[Array, str], Array]


SUFFIXES = (".cube", ".clf", ".cc", ".ccc", ".cdl", ".png", ".tif", ".tiff")
"""Endings of the files read here; pictures are taken as Hald CLUTs."""


class LutFile:
    """A LUT file that was read: call it with signal, or give it to an ``Applier`` for pictures.

    ``file(signal, interpolation)`` takes and gives (..., 3) float64. Lattices and curves clamp input to their domain;
    an interpolation that a .clf states is obeyed. A call computes in float64 where the file is a table or a CDL (a .clf
    in 32 bits); :meth:`processor` is OpenColorIO's, in 32 bits. The two agree to 1e-6 of signal for values up to 1.

    Raises :class:`LutFileError` for finite colours that a formula in the file (a power, an antilogarithm) sends beyond
    all numbers, :class:`PictureError` for NaN.
    """

    def __init__(
        self,
        path: Path,
        table: LutFunction,
        processor: Callable[[str], Any],
        numbers: bytes,
        correction: str | None = None,
        bounded: bool = False,
    ) -> None:
        self.path = path
        self.correction = correction
        """Id of the correction that was asked for, of a collection."""
        self.digest = hashlib.sha256(numbers).digest()
        """Equal for files that do the same."""
        self._table, self._processor = table, processor
        self._bounded = bounded

    def __call__(self, signal: Array, interpolation: str = "tetrahedral") -> Array:
        with np.errstate(over="ignore", invalid="ignore"):
            result = self._table(signal, interpolation)
        if not np.isfinite(result).all() and np.isfinite(signal).all():
            raise self._endless()
        return result

    def processor(self, interpolation: str) -> Any:
        """OpenColorIO's CPU processor of the whole file, lossless, 32-bit float in and out."""
        return self._processor(interpolation)

    def check(self, result: NDArray[Any]) -> None:
        """Refuse what :meth:`processor` gave when it is not finite; it costs no array of its own. Tables are finite."""
        if not self._bounded and result.size and not (np.isfinite(result.min()) and np.isfinite(result.max())):
            raise self._endless()

    def _endless(self) -> LutFileError:
        return LutFileError(
            str(self.path), "gives infinite values or NaN for some colours", "finite numbers", "check its powers"
        )


def read_lut(path: os.PathLike[str] | str, correction: str | None = None) -> LutFile:
    """Read a LUT.

    Parameters
    ----------
    path
        ``.cube`` (1D, 3D, with any domain), ``.clf``, ASC CDL (not clamped) or a Hald CLUT.
    correction
        Which one of an ASC CDL collection: its id, or ``#2`` for the second. None: the only one.

    Raises
    ------
    LutFileError
        With file and line; for a collection of several without ``correction`` it lists their ids.
    WrongUse
        For a correction asked of a file that is no ASC CDL.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if correction is not None and suffix not in CDL_SUFFIXES:
        raise WrongUse(f"{path.name} holds no corrections to choose from; --correction is for {_words(CDL_SUFFIXES)}")
    if suffix in CDL_SUFFIXES:
        one = pick(read_cdl(path), correction, str(path))
        values = repr((one.slope, one.offset, one.power, one.saturation)).encode()
        return LutFile(path, lambda x, _: one(x), lambda _: cpu_processor(ocio_correction(one)), values, correction)
    if suffix == ".clf":
        clf = read_clf(path)
        return LutFile(path, clf, clf.processor, clf.data)
    if suffix == ".cube":
        return _tables(path, read_cube(path))
    if suffix in SUFFIXES:
        return _tables(path, Tables(read_hald(path), None))
    got = f"cannot read LUT files ending in {suffix or 'nothing'!r}"
    raise LutFileError(str(path), got, "one of " + _words(SUFFIXES))


def _words(suffixes: tuple[str, ...]) -> str:
    return ", ".join(suffixes)


def _tables(path: Path, tables: Tables) -> LutFile:
    parts: list[Curves | Lattice] = [p for p in (tables.curves, tables.lattice) if p is not None]

    def apply(signal: Array, interpolation: str) -> Array:
        for part in parts:
            signal = lookup(part, signal, interpolation) if isinstance(part, Lattice) else linear(part, signal)
        return signal

    numbers = b"".join(repr((p.domain_min, p.domain_max)).encode() + p.table.tobytes() for p in parts)
    return LutFile(path, apply, lambda i: cpu_processor(ocio_transform(tables, i)), numbers, bounded=True)
