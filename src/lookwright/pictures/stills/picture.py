"""One still picture in memory."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Float32 = NDArray[np.float32]
Places = slice | NDArray[np.intp]
"""Rows or columns: a span of them, or one for each pixel."""

DEPTHS = ("8", "10", "12", "16", "half", "float")
"""Bit depths by name: whole-number codes of so many bits, or 16- and 32-bit floating point."""

INTEGER_BITS = {"8": 8, "10": 10, "12": 12, "16": 16}


@dataclass(frozen=True, eq=False)
class Still:
    """A picture as its file stores it, as float32, without any colour conversion.

    Parameters
    ----------
    pixels
        float32 (H, W, 3), C-contiguous, top row first, upright (the file's orientation tag is applied).
        Files of whole numbers: code / (2^n - 1), so 0..1 and each code exactly recoverable. Floating-point
        files: the numbers as stored, negatives and values above one included. Never NaN or infinite.
        Colour is never premultiplied by ``alpha`` here, whatever the file does.
    alpha
        float32 (H, W), or None when the file has none.
    depth
        One of :data:`DEPTHS`: what the file holds.
    path
        Where it was read from.
    icc
        The embedded ICC profile as bytes, or None. It is carried, not applied.
    metadata
        Text and numbers found in the header, under OpenImageIO's attribute names.
    """

    pixels: Float32
    alpha: Float32 | None
    depth: str
    path: Path
    icc: bytes | None = None
    metadata: dict[str, str | int | float] = field(default_factory=dict)

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.pixels.shape[0])

    def part(self, rows: Places, columns: Places) -> Float32:
        """Some of the pixels, (h, w, 3), or (n, 3) by their places."""
        return self.pixels[rows, columns]


@dataclass(frozen=True, eq=False)
class CodedStill:
    """A picture of whole numbers without alpha, as its file stores it: what :class:`Still` is before the division."""

    codes: NDArray[np.uint8] | NDArray[np.uint16]
    """(H, W, 3), C-contiguous, top row first, upright; full white is 255 or 65535."""
    path: Path
    icc: bytes | None = None
    metadata: dict[str, str | int | float] = field(default_factory=dict)

    @cached_property
    def pixels(self) -> Float32:
        """Those of the :class:`Still`, made when they are first asked for."""
        return self.signal(self.codes)

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.codes.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.codes.shape[0])

    def part(self, rows: Places, columns: Places) -> Float32:
        """Some of the pixels, (h, w, 3), or (n, 3) by their places: no more of them are made."""
        return self.signal(self.codes[rows, columns])

    def still(self) -> Still:
        """The picture that :func:`~lookwright.pictures.stills.read.read` makes of the same file."""
        depth = str(8 * self.codes.dtype.itemsize)
        return Still(self.signal(self.codes), None, depth, self.path, self.icc, self.metadata)

    def signal(self, codes: NDArray[Any]) -> Float32:
        """Some of its codes as the pixels they stand for."""
        return np.divide(codes, np.float32(np.iinfo(self.codes.dtype).max), dtype=np.float32)
