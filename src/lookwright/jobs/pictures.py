"""Writing what a look makes of a still: the output's profile and its description in the file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Pixels
from lookwright.look.baking.viewing import View
from lookwright.pictures.stills import profile_for, write
from lookwright.present.sheets.canvas import fitted, from_image, signal_of, to_image

EIGHT_BITS = (".jpg", ".webp")
"""Pictures that are written 8 bits deep."""

GRADED = "lookwright, graded"
"""The software that pictures through a look name in their files: they are no stills to be graded again."""


def save(target: Path, pixels: Pixels | NDArray[np.uint8], view: View, alpha: Pixels | None = None) -> None:
    """Write with the output's ICC profile where there is one and the format holds it; uint8 are codes."""
    icc, text = described(view)
    suffix = target.suffix.lower()
    if pixels.dtype == np.uint8 and suffix not in EIGHT_BITS:
        pixels = signal_of(pixels)
    write(
        target,
        pixels,
        alpha=alpha if suffix != ".jpg" else None,
        icc=icc,
        metadata={"description": text, "software": GRADED},
    )


def described(view: View) -> tuple[bytes | None, str]:
    """The output's ICC profile, where there is one, and what the pictures are in words."""
    icc = profile_for(view.output.encoding.name, view.output.primaries.name)
    return icc, f"{view.look.title}: {view.output.describe()}" + ("" if icc else ", no ICC profile for this encoding")


def thumbnail(pixels: Pixels, width: int = 640) -> Pixels:
    """The picture at most ``width`` wide, 8 bits deep."""
    return from_image(fitted(to_image(pixels), width))
