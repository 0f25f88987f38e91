"""Write a still exactly, whole or not at all."""

from __future__ import annotations

import contextlib
import io
import math
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lookwright import system
from lookwright.errors import LookwrightError, OutputError, PictureError, did_you_mean
from lookwright.files import demand_text, replacing

from .formats import DPX, EXR, JPEG, PNG, SUFFIXES, TIFF, WEBP, Format, by_suffix
from .picture import INTEGER_BITS
from .quantise import VALUES, quantise
from .quiet import libpng_quiet
from .read import png_is_whole

if TYPE_CHECKING:
    from PIL.Image import Exif

HALF_MOST = 65504.0
"""Largest finite number of IEEE 754 binary16."""

JPEG_MOST = 65500
"""Pixels a side that libjpeg takes (its JPEG_MAX_DIMENSION)."""

WEBP_MOST = 16383
"""Pixels a side that WebP's 14-bit sizes hold (RFC 9649, 3.4)."""

# Our word -> (OpenImageIO attribute, Exif tag for JPEG and WebP).
_NOTES = {
    "description": ("ImageDescription", 0x010E),
    "software": ("Software", 0x0131),
    "artist": ("Artist", 0x013B),
    "copyright": ("Copyright", 0x8298),
}


def holds_icc(path: os.PathLike[str] | str) -> bool:
    """Whether the format named by the suffix of ``path`` can carry an ICC profile."""
    return _format(Path(path)).icc


def write(
    path: os.PathLike[str] | str,
    pixels: ArrayLike,
    depth: str | None = None,
    *,
    alpha: ArrayLike | None = None,
    drop_alpha: bool = False,
    icc: bytes | None = None,
    quality: int = 92,
    metadata: Mapping[str, str] | None = None,
) -> Path:
    """Write a picture in the format its suffix names; the target appears only when complete.

    Parameters
    ----------
    path
        ``.png``, ``.tif``/``.tiff``, ``.exr``, ``.dpx``, ``.jpg``/``.jpeg``, ``.webp``.
    pixels
        (H, W, 3) float, signal 0..1 (EXR and float TIFF: any finite number). Whole-number depths clip
        to 0..1 and take the nearest code of 0..2^n - 1, ties up, as exact arithmetic has it; floating
        depths keep negatives and values above one. Colour is not premultiplied by alpha; EXR, which is
        premultiplied by its specification, is multiplied here where 0 < alpha < 1. Without alpha and for
        depth ``8`` also uint8: codes, written as they are.
    depth
        ``8``, ``10``, ``12``, ``16``, ``half`` or ``float``; by default PNG 16, TIFF 16, EXR half,
        DPX 10, JPEG 8, WebP 8 (without loss).
    alpha
        (H, W), clipped to 0..1 for whole-number depths; or None.
    drop_alpha
        Allow alpha to be left out by a format that has none (JPEG).
    icc
        ICC profile to embed (PNG, TIFF, JPEG, WebP; see :func:`holds_icc`). The pixels are not converted.
    quality
        JPEG only, 1..100; chroma is never subsampled, because colour is what these pictures are for.
    metadata
        Any of ``description``, ``software``, ``artist``, ``copyright``. Text beyond ASCII is UTF-8.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    PictureError
        A depth, alpha or profile that the format cannot hold; NaN or infinity; numbers beyond half;
        a wrong shape; an unknown suffix.
    OutputError
        Folder missing, no permission, disk full: nothing is left behind, an earlier file stays whole.
    """
    path = Path(path)
    kind = _format(path)
    depth = kind.default if depth is None else str(depth)
    if depth not in kind.depths:
        raise PictureError(
            str(path), f"{kind.name} cannot hold depth {depth!r}", " or ".join(kind.depths), "change --depth"
        )
    if alpha is not None and not kind.alpha:
        if not drop_alpha:
            raise PictureError(
                str(path), f"{kind.name} has no alpha and it would be lost", hint="write PNG, WebP, TIFF or EXR"
            )
        alpha = None
    if icc is not None and not kind.icc:
        raise PictureError(str(path), f"{kind.name} holds no ICC profile", hint="write PNG, TIFF, JPEG or WebP")
    if not 1 <= quality <= 100:
        raise PictureError(str(path), f"quality {quality}", "1 to 100")
    notes = _checked_notes(path, metadata)
    most = {JPEG: JPEG_MOST, WEBP: WEBP_MOST}.get(kind)
    if most is not None and max(np.shape(pixels)[:2], default=0) > most:
        raise PictureError(str(path), f"too large for {kind.name}", f"at most {most} pixels a side", "write PNG")
    demand_text(path)
    data = _stored(path, kind, depth, pixels, alpha)
    with replacing(path) as temporary:
        if kind is JPEG:
            temporary.write_bytes(_jpeg(data, quality, icc, notes))
        elif kind is WEBP:
            temporary.write_bytes(_webp(data, icc, notes))
        elif kind is TIFF:
            _tiff(temporary, data, icc, notes)
        else:
            with libpng_quiet() if kind is PNG else contextlib.nullcontext():
                _through_library(path, temporary, kind, depth, data, icc, notes)
        if temporary.stat().st_size == 0:
            raise _unwritten(path, "nothing was written")
    return path


def _format(path: Path) -> Format:
    kind = by_suffix(path.suffix)
    if kind is None:
        raise PictureError(
            str(path), f"no picture format has the suffix {path.suffix!r}", "one of " + ", ".join(SUFFIXES)
        )
    return kind


def _checked_notes(path: Path, metadata: Mapping[str, str] | None) -> dict[str, str]:
    notes = {"software": "lookwright"}
    for key, value in (metadata or {}).items():
        if key not in _NOTES:
            raise PictureError(str(path), f"unknown metadata {key!r}", hint=did_you_mean(key, _NOTES))
        if not isinstance(value, str) or "\0" in value:
            raise PictureError(str(path), f"metadata {key!r} is not plain text")
        notes[key] = value
    return notes


def _stored(path: Path, kind: Format, depth: str, pixels: ArrayLike, alpha: ArrayLike | None) -> NDArray[Any]:
    """The numbers as the file holds them: (H, W, 3 or 4) uint8, uint16, float16 or float32, contiguous."""
    source = np.asarray(pixels)
    coded = source.dtype == np.uint8 and depth == "8" and alpha is None
    if source.ndim != 3 or source.shape[2] != 3 or 0 in source.shape or not (coded or source.dtype.kind == "f"):
        raise PictureError(str(path), f"array {source.shape} of {source.dtype}", "(H, W, 3) of floats")
    if coded:
        return np.ascontiguousarray(source)
    mask = None
    if alpha is not None:
        mask = np.asarray(alpha)
        if mask.shape != source.shape[:2] or mask.dtype.kind != "f":
            raise PictureError(str(path), f"alpha {mask.shape} of {mask.dtype}", f"{source.shape[:2]} of floats")
    height, width, _ = source.shape
    bits = INTEGER_BITS.get(depth, 0)
    kept = np.dtype({"half": "f2", "float": "f4"}.get(depth, "u1" if bits == 8 else "u2"))
    out = np.empty((height, width, 3 if mask is None else 4), kept)
    step = max(1, VALUES // (3 * width))
    for top in range(0, height, step):
        rows = slice(top, top + step)
        band = out[rows]
        _fill(path, band[..., :3], source[rows], top, bits)
        if mask is not None:
            cover = mask[rows, :, None]
            if kind is EXR:
                part = np.where((cover > 0) & (cover < 1), cover, 1.0)
                _fill(path, band[..., :3], source[rows] * part, top, bits)
            _fill(path, band[..., 3:], cover, top, bits)
    return out


def _fill(path: Path, target: NDArray[Any], values: NDArray[Any], top: int, bits: int) -> None:
    low, high = float(values.min()), float(values.max())  # NaN where any value is
    if not math.isfinite(low) or not math.isfinite(high):
        finite = np.isfinite(values)
        y, x = (int(v) for v in np.argwhere(~finite.all(axis=2))[0])
        raise PictureError(
            str(path), f"the picture to be written is NaN or infinite at x {x}, y {top + y}", "finite numbers"
        )
    if not bits:
        most = HALF_MOST if target.dtype == np.float16 else float(np.finfo(np.float32).max)
        if max(high, -low) > most:
            raise PictureError(
                str(path),
                f"a pixel is larger than {most:g}, the most this depth holds",
                hint="use depth float" if most == HALF_MOST else "",
            )
        target[...] = values
        return
    quantise(values, bits, target, cut=low < 0.0 or high > 1.0)
    if bits in (10, 12):
        # The library takes the code in the top bits; the same bits below make full white 65535.
        target[...] = (target << (16 - bits)) | (target >> (2 * bits - 16))


def _unwritten(path: Path, detail: str) -> LookwrightError:
    detail = " ".join(detail.split())[:160]
    return OutputError(str(path), f"could not be written whole ({detail})", hint="is the disk full?")


def _jpeg(data: NDArray[Any], quality: int, icc: bytes | None, notes: Mapping[str, str]) -> bytes:
    """Encode in memory: libjpeg inside OpenImageIO ends the whole process when a disk is full."""
    from PIL import Image

    options: dict[str, Any] = {"quality": quality, "subsampling": 0, "exif": _exif(notes)}
    if icc is not None:
        options["icc_profile"] = icc
    picture, room = Image.fromarray(data), data.shape[0] * data.shape[1]  # a byte a pixel: few need half of it

    def encoded(held: BinaryIO) -> bytes:
        with held:
            picture.save(held, "JPEG", **options)
            size = held.tell()
            held.seek(0)
            return held.read(size)

    found = encoded(system.file_in_memory(room))
    return found if len(found) <= room else encoded(io.BytesIO())


def _webp(data: NDArray[Any], icc: bytes | None, notes: Mapping[str, str]) -> bytes:
    """Without loss, the colour under full transparency kept: WebP with loss always halves the chroma.

    Measured on a 1920x1080 still: 1.1 s and three quarters of the size of an 8-bit PNG.
    """
    import imageio.v3 as iio

    options: dict[str, Any] = {"lossless": True, "exact": True, "exif": _exif(notes)}
    if icc is not None:
        options["icc_profile"] = icc
    written = iio.imwrite("<bytes>", data, extension=".webp", plugin="pillow", is_batch=False, **options)
    assert written is not None
    return written


def _exif(notes: Mapping[str, str]) -> Exif:
    from PIL import Image

    exif = Image.Exif()
    for key, text in notes.items():
        exif[_NOTES[key][1]] = text.encode()  # UTF-8; a plain string would turn into question marks
    return exif


def _tiff(temporary: Path, data: NDArray[Any], icc: bytes | None, notes: Mapping[str, str]) -> None:
    """tifffile rather than OpenImageIO 3.2, which writes half as 32-bit float without a word and
    reports a failure on every TIFF, so that real ones cannot be told."""
    import tifffile

    whole = data.dtype.kind == "u"
    tags = [
        (_NOTES[key][1], 2, 0, notes[key].encode() + b"\0", True) for key in ("artist", "copyright") if key in notes
    ]
    tifffile.imwrite(
        temporary,
        data,
        photometric="rgb",
        extrasamples=["unassalpha"] if data.shape[2] == 4 else None,
        compression="zlib",
        # Measured on a 1920x1080 16-bit still: level 4 with differences 0.3 s, 5.0 MB; level 6 1.2 s, 4.7 MB.
        compressionargs={"level": 4},
        predictor=whole or None,
        rowsperstrip=64,
        metadata=None,
        description=notes["description"].encode() if "description" in notes else None,
        software=notes["software"].encode(),
        iccprofile=icc,
        extratags=tags,
    )


def _through_library(
    path: Path,
    temporary: Path,
    kind: Format,
    depth: str,
    data: NDArray[Any],
    icc: bytes | None,
    notes: Mapping[str, str],
) -> None:
    import OpenImageIO as oiio

    height, width, channels = data.shape
    stored = {"float16": "half", "float32": "float"}.get(data.dtype.name, data.dtype.name)
    spec = oiio.ImageSpec(width, height, channels, stored)
    if depth in INTEGER_BITS:
        spec.attribute("oiio:BitsPerSample", INTEGER_BITS[depth])
    if channels == 4 and kind is not EXR:
        spec.attribute("oiio:UnassociatedAlpha", 1)
    if kind is PNG:
        if data.dtype.itemsize == 2:
            # What 16 bits leave behind the Paeth predictor (PNG_FILTER_PAETH, 0x80) is near noise, in which nothing
            # repeats but bytes in a row. On the sample stills a quarter to a third of the time of level 4, 3 to 4 %
            # smaller.
            spec.attribute("compression", "rle")
            spec.attribute("png:filter", 128)
        else:
            spec.attribute("png:compressionLevel", 4)
        # Else the library marks every PNG as sRGB (chunks sRGB, gAMA, cHRM), a log still or a BT.1886 picture too.
        spec.attribute("oiio:ColorSpace", "raw")
    elif kind is EXR:
        spec.attribute("compression", "zip")
        spec.attribute("DateTime", "")  # else the time of writing, and no two files alike
    if icc is not None:
        spec.attribute("ICCProfile", oiio.TypeDesc(f"uint8[{len(icc)}]"), np.frombuffer(icc, np.uint8))
    for key, text in notes.items():
        spec.attribute(_NOTES[key][0], text)
    sink = oiio.ImageOutput.create(str(temporary))
    if sink is None:
        raise _unwritten(path, oiio.geterror())
    if not sink.open(str(temporary), spec):
        raise _unwritten(path, sink.geterror())
    done = sink.write_image(data)
    # Each of these may be set alone: a full disk leaves a message behind a "True".
    faults = [sink.geterror()]
    done = sink.close() and done
    faults.append(sink.geterror())
    detail = " ".join(x for x in faults if x)
    if not done or detail:
        raise _unwritten(path, detail)
    if kind is DPX:
        _name_in_dpx(temporary, path.name)
    _check_end(path, temporary, kind, data)


def _name_in_dpx(temporary: Path, name: str) -> None:
    """Put the real name where the library wrote the temporary one (SMPTE ST 268, file name at byte 36)."""
    with open(temporary, "r+b") as file:
        file.seek(36)
        file.write(name.encode("ascii", "replace")[:99].ljust(100, b"\0"))


def _check_end(path: Path, temporary: Path, kind: Format, data: NDArray[Any]) -> None:
    """Read the end back (PNG, EXR, DPX): a full disk at the last flush goes unreported by the library."""
    import OpenImageIO as oiio

    if kind is PNG:
        if not png_is_whole(temporary):
            raise _unwritten(path, "its end is missing")
        return
    height, _, channels = data.shape
    source = oiio.ImageInput.open(str(temporary))
    if source is None:
        raise _unwritten(path, oiio.geterror())
    last = source.read_scanlines(height - 1, height, 0, 0, channels, source.spec().format)
    fault = source.geterror()
    source.close()
    if last is None or fault:
        raise _unwritten(path, fault)
