"""A neutral sheet to lay frames and captions on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Pixels
from lookwright.pictures.stills.quantise import VALUES

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFont import FreeTypeFont


SURROUND = 84
"""Code value of the sheet: a neutral grey a little under middle, so that frames are judged against no colour
(ISO 3664:2009 asks for a neutral, moderate surround; its figures from memory)."""
INK = 236
FAINT = 176


def to_image(pixels: Pixels | Image) -> Image:
    """(H, W, 3) signal 0..1 to an 8-bit picture, rounded to the nearest code; what is a picture already stays."""
    from PIL import Image

    if isinstance(pixels, Image.Image):
        return pixels
    codes = np.empty(pixels.shape, np.uint8)
    rows = max(1, VALUES // (3 * pixels.shape[1]))  # what stands between stays in the cache
    between = np.empty((min(rows, len(pixels)), *pixels.shape[1:]), pixels.dtype)
    for top in range(0, len(pixels), rows):
        band = pixels[top : top + rows]
        part = between[: len(band)]
        np.clip(band, 0.0, 1.0, out=part)
        np.multiply(part, 255.0, out=part)
        np.copyto(codes[top : top + rows], np.rint(part, out=part), casting="unsafe")
    return Image.fromarray(codes, "RGB")


def from_image(image: Image) -> Pixels:
    """The inverse of :func:`to_image`."""
    return signal_of(codes_of(image))


def codes_of(image: Image) -> NDArray[np.uint8]:
    """The codes of a picture, (H, W, 3)."""
    return np.asarray(image, np.uint8)


def signal_of(codes: NDArray[Any]) -> Pixels:
    """8-bit codes as signal 0..1."""
    return codes.astype(np.float32) / np.float32(255.0)


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
