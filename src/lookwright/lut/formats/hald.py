"""Hald CLUTs: a 3D LUT as a 16-bit PNG, read by FFmpeg and photo tools.

A Hald CLUT of level L is a square picture L^3 pixels wide that holds a lattice of L^2 points a side, red fastest,
row by row: level 8 holds 64 points in 512 x 512 pixels, and nothing else, so its input range is 0 to 1. The form has
no standard; it is as FFmpeg's ``haldclutsrc`` makes it (compared in the tests).
"""

from __future__ import annotations

import math
import os
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.errors import LutFileError
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.pictures.stills import read, write

LEVELS = range(2, 12)
"""Levels 2 to 11: 4 to 121 points a side. Eight is usual."""


def points_of(level: int) -> int:
    """Points a side of the lattice in a Hald CLUT of this level; :class:`LutFileError` outside 2 to 11."""
    if level not in LEVELS:
        raise LutFileError("Hald CLUT", f"level {level}", f"{LEVELS.start} to {LEVELS.stop - 1}", "8 is usual")
    return level * level


def to_picture(lattice: Lattice) -> NDArray[np.float64]:
    """A lattice of L^2 points over 0..1 as an (L^3, L^3, 3) picture."""
    level = math.isqrt(lattice.size)
    if level * level != lattice.size or level not in LEVELS:
        sizes = ", ".join(str(n * n) for n in LEVELS)
        raise LutFileError("Hald CLUT", f"{lattice.size} points a side", f"one of {sizes}")
    if not lattice.unit_domain:
        raise LutFileError("Hald CLUT", f"the input range is {lattice.domain_min} to {lattice.domain_max}", "0 to 1")
    side = level**3
    return lattice.table.transpose(2, 1, 0, 3).reshape(side, side, 3)


def identity(level: int = 8) -> Lattice:
    """The LUT that changes nothing, to be graded elsewhere and read back."""
    return Lattice(grid(points_of(level)), title=f"Identity, Hald level {level}")


def write_hald(path: os.PathLike[str] | str, lattice: Lattice, words: str = "") -> None:
    """Write a 16-bit PNG; values are clipped to 0..1 and rounded to 1/65535, so they err by up to 7.6e-6.

    Raises :class:`LutFileError` for a lattice that is not a square of points, or a name that does not end in .png.
    """
    path = Path(path)
    if path.suffix.lower() != ".png":
        raise LutFileError(str(path), "the name does not end in .png", hint="a Hald CLUT is a 16-bit PNG")
    text = f"{lattice.title}. {words}".strip(". ")
    write(path, to_picture(lattice), "16", metadata={"description": text} if text else None)


def read_hald(path: os.PathLike[str] | str) -> Lattice:
    """Read a Hald CLUT from a PNG or TIFF of 8 or 16 bits.

    Raises :class:`LutFileError` for a picture that has not the shape of one, :class:`PictureError` for one that
    cannot be read.
    """
    pixels: Array = np.asarray(read(path).pixels, np.float64)
    height, width = pixels.shape[:2]
    level = round(width ** (1 / 3))
    if height != width or level**3 != width or level not in LEVELS:
        raise LutFileError(
            str(path), f"{width} x {height} pixels", "a square of L^3 pixels for L from 2 to 11, as a Hald CLUT has"
        )
    n = level * level
    return Lattice(pixels.reshape(n, n, n, 3).transpose(2, 1, 0, 3), title=Path(path).stem)
