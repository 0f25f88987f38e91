"""A LUT file of others through ``preview`` and through OpenColorIO's own reading of the file: the two pictures."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import lookwright
from lookwright.jobs.given import SignalName
from lookwright.look.baking.foreign import look_of_lut
from lookwright.look.baking.viewing import View
from lookwright.lut.formats.clf import NODES
from lookwright.lut.formats.naming import joined_name
from lookwright.pictures.stills import read, write

Pixels = NDArray[np.float32]
SIGNAL = SignalName("BT.1886")
ENDINGS = (".cube", ".clf", ".cc", ".ccc", ".cdl")
"""What OpenColorIO reads too; it knows no Hald CLUT."""

HEIGHT, WIDTH = 96, 512


def noise_and_ramps(low: float = 0.0, high: float = 1.0, seed: int = 3) -> Pixels:
    """(96, 512, 3): noise over the cube, a ramp of greys, one in each channel, and two hue ramps on grey."""
    rng = np.random.default_rng(seed)
    picture = low + (high - low) * rng.random((HEIGHT, WIDTH, 3))
    ramp = np.linspace(low, high, WIDTH)
    picture[:12] = ramp[:, None]
    for c in range(3):
        picture[12 + 12 * c : 24 + 12 * c] = low
        picture[12 + 12 * c : 24 + 12 * c, :, c] = ramp
    picture[48:60] = np.stack([ramp, ramp[::-1], np.full(WIDTH, (low + high) / 2)], axis=-1)
    return np.ascontiguousarray(picture, np.float32)


def write_still(path: Path) -> Pixels:
    """The picture as a 16-bit file; what it holds."""
    write(path, noise_and_ramps(), depth="16")
    return read(path).pixels


def by_ocio(path: Path, pixels: Pixels, correction: str | None = None) -> Pixels:
    """OpenColorIO's own reading of the file, as it lies there: ``FileTransform``, lossless, tetrahedral.

    Raises ``PyOpenColorIO.Exception``, or ``UnicodeDecodeError`` where its message is no UTF-8.
    """
    import PyOpenColorIO as ocio

    ocio.ClearAllCaches()  # it remembers files by path
    level = ocio.GetLoggingLevel()
    ocio.SetLoggingLevel(ocio.LOGGING_LEVEL_NONE)
    try:
        transform = ocio.FileTransform(str(path), correction or "", interpolation=ocio.INTERP_TETRAHEDRAL)
        processor = ocio.Config.CreateRaw().getProcessor(transform)
    finally:
        ocio.SetLoggingLevel(level)
    cpu = processor.getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
    out = np.ascontiguousarray(pixels, np.float32).copy()
    cpu.apply(ocio.PackedImageDesc(out, out.shape[1], out.shape[0], 3))
    return out


def by_preview(path: Path, still: Path, out: Path, correction: str | None = None) -> Pixels:
    """The picture that ``preview`` writes, 16 bits, 0 to 1."""
    made = lookwright.preview(path, [still], out, suffix="png", source=SIGNAL, output=SIGNAL, correction=correction)
    (picture,) = made.written
    return read(picture).pixels


def by_view(path: Path, pixels: Pixels, correction: str | None = None) -> Pixels:
    """What ``preview`` grades with, before it is put into an integer file: any float."""
    from lookwright.colour.spaces.signal import Signal

    signal = Signal.named(SIGNAL.encoding)
    return View(look_of_lut(path, signal, signal, True, correction)).graded(pixels)


def relative(ours: Pixels, theirs: Pixels) -> float:
    """Largest difference, of values beyond 1 as a share of them."""
    gap = np.abs(ours.astype(np.float64) - theirs)
    return float((gap / np.maximum(1.0, np.abs(theirs))).max())


def kind_of(path: Path) -> str:
    """The kind of file in words, from its text."""
    text = path.read_bytes().decode("latin-1")
    if path.suffix == ".cube":
        return " + ".join(d for d in ("1D", "3D") if f"LUT_{d}_SIZE" in text.upper()) + " .cube"
    if path.suffix == ".clf":
        nodes = [n for n in NODES if re.search(rf"<(\w+:)?{n}\b", text)]
        return "CLF " + " + ".join(nodes)
    return path.suffix


def name_of(path: Path, correction: str | None) -> str:
    """``FILE:ID``."""
    return joined_name(path.name, correction)
