"""A written LUT read again by OpenColorIO, before anybody says "written"."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.errors import LutFileError
from lookwright.lut.lattices.processor import lossless_processor, through_processor
from lookwright.lut.lattices.samples import spread

from .cdl import Correction
from .hald import read_hald
from .ocio_config import Names, read_back, view_transform

ALLOWED = 2e-5
"""Largest difference of signal that is the reader's own arithmetic: 32-bit numbers, and a cell found in 32 bits, of
which the steepest lattices make some 1e-6; a wrong value, order or interpolation shows as 1e-3 and more. A Hald CLUT
rounds to 16 bits, 7.6e-6."""


def probes() -> Array:
    """(4104, 3) colours: an even spread over the cube, and its corners."""
    corners = np.array([[r, g, b] for r in (0.0, 1.0) for g in (0.0, 1.0) for b in (0.0, 1.0)])
    return np.concatenate([spread(4096, 3, 7), corners])


def reader() -> str:
    """Name and version of the reader."""
    import PyOpenColorIO as ocio

    return f"OpenColorIO {ocio.GetVersion()}"


def verify_file(path: Path, expected: Callable[[Array], Array]) -> float:
    """Read a .cube, .clf, .cc, .ccc or .cdl with OpenColorIO and compare with ``expected`` at :func:`probes`.

    Returns the largest difference. Raises :class:`LutFileError` when OpenColorIO does not load the file or differs by
    more than 2e-5.
    """
    import PyOpenColorIO as ocio

    ocio.ClearAllCaches()
    try:
        transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
        processor = lossless_processor(transform)
    except ocio.Exception as exc:
        raise LutFileError(str(path), f"OpenColorIO does not load it: {exc}") from None
    return _compared(path, processor, expected)


def verify_correction(path: Path, correction: Correction) -> float:
    """:func:`verify_file` for an ASC CDL, which OpenColorIO applies without clamping."""
    return verify_file(path, correction)


def verify_config(folder: Path, names: Names, expected: Callable[[Array], Array]) -> float:
    """Load a configuration, validate it, and compare its view with ``expected``."""
    import PyOpenColorIO as ocio

    try:
        processor = lossless_processor(view_transform(names), read_back(folder))
    except ocio.Exception as exc:
        raise LutFileError(str(folder), f"OpenColorIO does not load it: {exc}") from None
    return _compared(folder, processor, expected)


def verify_hald(path: Path, expected: Callable[[Array], Array], size: int) -> float:
    """Read a Hald CLUT's numbers again with Pillow's own decoder, at the 8 bits it gives.

    The full 16 bits are compared too, by our own reader. Returns the largest difference of the 16-bit numbers.
    """
    from PIL import Image

    lattice = read_hald(path)
    axis = np.arange(size) / (size - 1)
    grid = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
    wanted = np.clip(expected(grid), 0.0, 1.0)
    worst = float(np.abs(lattice.table - wanted).max())
    with Image.open(path) as picture:
        coarse = np.asarray(picture.convert("RGB"), np.float64).reshape(size, size, size, 3).transpose(2, 1, 0, 3)
    if worst > ALLOWED or np.abs(coarse / 255.0 - wanted).max() > 1.01 / 255.0:
        raise LutFileError(str(path), f"reads back with an error of {worst:.1g}", "the values that were written")
    return worst


def _compared(path: Path, processor: Any, expected: Callable[[Array], Array]) -> float:
    points = probes()
    worst = float(np.abs(through_processor(processor, points) - expected(points)).max())
    if not worst <= ALLOWED:
        raise LutFileError(
            str(path),
            f"OpenColorIO reads it with an error of {worst:.2g}",
            f"at most {ALLOWED:g}",
            "this is a fault of the program; please report it",
        )
    return worst
