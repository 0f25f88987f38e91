"""A neutral sheet to lay frames and captions on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lookwright.arrays import Pixels

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFont import FreeTypeFont


SURROUND = 84
"""Code value of the sheet: a neutral grey a little under middle, so that frames are judged against no colour
(ISO 3664:2009 asks for a neutral, moderate surround; its figures from memory)."""
INK = 236
FAINT = 176


_BAND = 16
"""Rows worked on at once: what stands between signal and codes then stays in the cache."""


def to_image(pixels: Pixels) -> Image:
    """(H, W, 3) signal 0..1 to an 8-bit picture, rounded to the nearest code."""
    from PIL import Image

    codes = np.empty(pixels.shape, np.uint8)
    for top in range(0, len(pixels), _BAND):
        band = np.clip(pixels[top : top + _BAND], 0.0, 1.0)
        band *= 255.0
        codes[top : top + _BAND] = np.rint(band, out=band)
    return Image.fromarray(codes, "RGB")


def from_image(image: Image) -> Pixels:
    """The inverse of :func:`to_image`."""
    return np.asarray(image, np.float32) / np.float32(255.0)


def font(size: int) -> FreeTypeFont:
    """The plain sans face that ships with Pillow: the same letters on every machine."""
    from PIL import ImageFont

    face = ImageFont.load_default(size)
    assert not isinstance(face, ImageFont.ImageFont)
    return face


def blank(width: int, height: int) -> Image:
    """An empty sheet."""
    from PIL import Image

    return Image.new("RGB", (width, height), (SURROUND,) * 3)


def fitted(image: Image, width: int) -> Image:
    """The picture at ``width`` pixels, proportions kept; never enlarged."""
    from PIL import Image as Module

    if image.width <= width:
        return image
    return image.resize((width, max(1, round(image.height * width / image.width))), Module.Resampling.LANCZOS)


def shortened(text: str, face: FreeTypeFont, width: int) -> str:
    """``text`` cut with an ellipsis so that it fits ``width`` pixels."""
    if face.getlength(text) <= width:
        return text
    while text and face.getlength(text + "…") > width:
        text = text[:-1]
    return text + "…"


def write_line(sheet: Image, xy: tuple[int, int], text: str, size: int, width: int, ink: int = INK) -> None:
    """One line of text with its top left at ``xy``, shortened to ``width``."""
    from PIL import ImageDraw

    face = font(size)
    ImageDraw.Draw(sheet).text(xy, shortened(text, face, width), fill=(ink,) * 3, font=face)
