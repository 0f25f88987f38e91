"""Y'CbCr codes of a clip to R'G'B' and back, matrix and range always named.

Two traps, which no file can be trusted to keep anyone out of:

* **The matrix.** R'G'B' from BT.601 weights instead of BT.709 moves saturated colours by up to a tenth of the range.
  HD is BT.709 and UHD mostly BT.2020, but many files say nothing, and readers then guess, some by frame size.
* **The range.** Legal range puts black at code 64 and white at 940 (of 1023), full range at 0 and 1023. Legal read as
  full is grey and flat; full read as legal loses its ends. For log there is a second question: whether the curve was
  scaled into legal range when it was recorded, so that it must be *expanded* (64 becomes 0), or whether the curve's
  own codes stand in the file as they are, with only the matrix done as for legal range, and must be *kept*. Cameras do
  either; the wrong choice moves the black of the curve and, with it, everything.

Sources: BT.709-6 items 3.2 to 3.4 and 4.6, BT.2020-2 tables 4 and 5, BT.601-7 2.5; code points of ITU-T H.273
tables 2 to 4.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from lookwright.arrays import Array

Levels = Literal["expand", "keep"]
Range = Literal["full", "legal"]

WEIGHTS = {"BT.709": (0.2126, 0.0722), "BT.2020": (0.2627, 0.0593), "BT.601": (0.299, 0.114)}
"""Luma weights of red and blue."""

MATRIX_CODES = {1: "BT.709", 5: "BT.601", 6: "BT.601", 9: "BT.2020"}
"""H.273 MatrixCoefficients (BT.2020 non-constant luminance)."""
RANGE_CODES: dict[int, Range] = {1: "legal", 2: "full"}
"""As libavutil numbers them: MPEG, JPEG."""
PRIMARIES_CODES = {1: "BT.709", 5: "BT.601 625", 6: "BT.601 525", 9: "BT.2020", 11: "P3", 12: "P3-D65"}
TRANSFER_CODES = {
    1: "BT.709",
    4: "gamma 2.2",
    6: "BT.601",
    8: "linear",
    13: "sRGB",
    14: "BT.2020",
    15: "BT.2020",
    16: "BT.2100 PQ",
    18: "BT.2100 HLG",
}

# A legal-range signal kept as code / 1023, at 10 bits: black 64, white 940.
_BLACK, _SPAN = 64.0 / 1023.0, 876.0 / 1023.0


def to_rgb(codes: Array, bits: int, matrix: str, range_: Range, levels: Levels = "expand") -> Array:
    """Y'CbCr codes to R'G'B'.

    Parameters
    ----------
    codes
        (..., 3) Y', Cb, Cr as ``bits``-bit codes; need not be whole (chroma between samples).
    bits
        8 or more.
    matrix
        A name of :data:`WEIGHTS`.
    range_
        Which codes stand for black and white.
    levels
        ``expand``: black 0, white 1. ``keep``: legal range stays at code / 1023 (black 64/1023, white 940/1023).
        Full range is the same either way.

    Returns
    -------
    (..., 3) float64; nothing is cut, so what lies beyond black and white is below 0 and above 1 when expanded.
    """
    red, blue = WEIGHTS[matrix]
    if range_ == "legal":
        luma = (codes[..., 0] / 2.0 ** (bits - 8) - 16.0) / 219.0
        chroma = (codes[..., 1:] / 2.0 ** (bits - 8) - 128.0) / 224.0
    else:
        luma = codes[..., 0] / (2.0**bits - 1.0)
        chroma = (codes[..., 1:] - 2.0 ** (bits - 1)) / (2.0**bits - 1.0)
    r = luma + 2.0 * (1.0 - red) * chroma[..., 1]
    b = luma + 2.0 * (1.0 - blue) * chroma[..., 0]
    g = (luma - red * r - blue * b) / (1.0 - red - blue)
    rgb = np.stack([r, g, b], axis=-1)
    return rgb * _SPAN + _BLACK if levels == "keep" and range_ == "legal" else rgb


def to_legal_codes(rgb: Array, bits: int, matrix: str) -> Array:
    """R'G'B' (black 0, white 1) to legal-range Y'CbCr codes, not rounded: the inverse of :func:`to_rgb`.

    Cut to 0..1 first: a preview is for players, and they do not show what lies beyond.
    """
    luma, cb, cr = _luma_and_chroma(rgb, matrix)
    scale = 2.0 ** (bits - 8)
    return np.stack([(luma * 219.0 + 16.0) * scale, (cb * 224.0 + 128.0) * scale, (cr * 224.0 + 128.0) * scale], -1)


def to_full_codes(rgb: Array, bits: int, matrix: str) -> Array:
    """R'G'B' (0..1) to full-range Y'CbCr codes, not rounded: the inverse of :func:`to_rgb`. Cut to 0..1 first."""
    luma, cb, cr = _luma_and_chroma(rgb, matrix)
    top, middle = 2.0**bits - 1.0, 2.0 ** (bits - 1)
    codes = np.stack([luma * top, cb * top + middle, cr * top + middle], -1)
    return np.clip(codes, 0.0, top)


def _luma_and_chroma(rgb: Array, matrix: str) -> tuple[Array, Array, Array]:
    """Y', 0..1, and Cb, Cr, -0.5..0.5, of R'G'B' cut to 0..1."""
    red, blue = WEIGHTS[matrix]
    cut = np.clip(rgb, 0.0, 1.0)
    luma = cut @ np.array([red, 1.0 - red - blue, blue])
    cb = (cut[..., 2] - luma) / (2.0 * (1.0 - blue))
    cr = (cut[..., 0] - luma) / (2.0 * (1.0 - red))
    return luma, cb, cr
