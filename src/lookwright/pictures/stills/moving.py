"""A moving picture without sound: a few pictures in one WebP or GIF that plays in a browser or a message."""

from __future__ import annotations

import io
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lookwright.errors import PictureError
from lookwright.files import demand_text, write_bytes

from .write import _exif

if TYPE_CHECKING:
    from PIL.Image import Image

MOVING = (".webp", ".gif")
QUALITY = 90
"""Of WebP with loss, 0 to 100: without loss a round of two pictures takes ten times the room."""
COLOURS = 256


def write_moving(
    path: os.PathLike[str] | str,
    frames: Iterable[tuple[Image, int]],
    *,
    icc: bytes | None = None,
    description: str = "",
    software: str = "",
) -> Path:
    """Write a picture that plays without end; the target appears only when complete.

    Parameters
    ----------
    path
        ``.webp`` (with loss, colour at half the resolution) or ``.gif`` (256 colours, the same for all frames).
    frames
        8-bit RGB pictures of one size, each with its milliseconds, in tens for a GIF.
    icc
        ICC profile to embed (WebP; a GIF holds none that is read).

    Raises
    ------
    PictureError
        Another suffix.
    OutputError
        A target that cannot be written: an earlier file stays whole.
    """
    path = Path(path)
    demand_text(path)
    kind = path.suffix.lower()
    if kind not in MOVING:
        raise PictureError(str(path), "cannot hold a moving picture", " or ".join(MOVING))
    encode = _webp if kind == ".webp" else _gif
    write_bytes(path, encode(iter(frames), icc, {"description": description, "software": software}))
    return path


def _webp(frames: Iterator[tuple[Image, int]], icc: bytes | None, notes: dict[str, str]) -> bytes:
    taken = list(frames)
    options: dict[str, Any] = {"quality": QUALITY, "method": 4, "loop": 0, "exif": _exif(notes)}
    if icc is not None:
        options["icc_profile"] = icc
    return _saved([image for image, _ in taken], [ms for _, ms in taken], "WEBP", options)


def _gif(frames: Iterator[tuple[Image, int]], icc: bytes | None, notes: dict[str, str]) -> bytes:
    """One palette for all: with one each, flat parts would change colour from frame to frame."""
    from PIL import Image as Module

    taken = list(frames)
    held = [image for image, ms in taken if ms == max(ms for _, ms in taken)]
    height = sum(image.height for image in held)
    together = Module.new("RGB", (held[0].width, height))
    for i, image in enumerate(held):
        together.paste(image, (0, i * image.height))
    palette = together.quantize(COLOURS, method=Module.Quantize.MEDIANCUT)
    dithered = [image.quantize(palette=palette, dither=Module.Dither.FLOYDSTEINBERG) for image, _ in taken]
    told = "; ".join(text for text in notes.values() if text).encode("ascii", "replace")
    return _saved(dithered, [ms for _, ms in taken], "GIF", {"loop": 0, "comment": told, "optimize": False})


def _saved(images: list[Image], ms: list[int], kind: str, options: dict[str, Any]) -> bytes:
    held = io.BytesIO()
    images[0].save(held, kind, save_all=True, append_images=images[1:], duration=ms, **options)
    return held.getvalue()
