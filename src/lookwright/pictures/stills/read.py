"""Read a still exactly, or say in one line why not."""

from __future__ import annotations

import contextlib
import os
import re
import struct
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from lookwright.errors import PictureError
from lookwright.memory import available, in_words
from lookwright.reading import open_regular, opened, reason

from . import once, png
from .formats import DPX, EXR, JPEG, PNG, READABLE, TIFF, WEBP, Format, by_content, by_suffix
from .picture import DEPTHS, CodedStill, Float32, Still
from .quiet import libpng_quiet

T = TypeVar("T")

MOST_PIXELS = 200_000_000
"""Largest picture read, in pixels (a 16K by 8K frame is 134 million): a guard against false headers."""

DENSEST = 2000
"""Pixels one byte of a JPEG or WebP may stand for, checked beyond :data:`_LARGE` pixels. A JPEG's block of 64 takes at
least a bit by Huffman codes (ITU-T T.81, F.1.2), which with the sparsest sampling is 1024 pixels a byte. WebP has no
such bound, but only a picture of one colour goes beyond it, and 34 bytes could ask for gigabytes."""

_LARGE = 20_000_000
_BAND = 8_000_000
"""Pixels of a picture beyond :data:`_LARGE` that are read at a time."""
_MOST_FRAME = 16
"""Times its data that the display window of an EXR beyond :data:`_LARGE` pixels may be; what is around it is black."""

_MOST_ATTRIBUTES = 5000
"""Header attributes of an EXR; 50,000 cost OpenEXR more than 5 s (measured)."""

# Colour models that OpenImageIO would turn into RGB by a formula of its own.
_TIFF_FOREIGN = {5: "CMYK inks", 8: "CIE Lab", 9: "ICC Lab", 10: "ITU Lab", 32844: "LogL", 32845: "LogLuv"}


def read(path: os.PathLike[str] | str) -> Still:
    """Read one picture: PNG 8/16, TIFF 8/16/half/float, EXR half/float, DPX 8/10/12/16, JPEG or WebP.

    The format is told by the content, not by the name. Whole-number files are divided by 2^n - 1 of
    their own bit depth (a 10-bit DPX code by 1023); floating-point files are returned as stored. Grey
    pictures become three equal channels. Premultiplied colour (EXR, TIFF with associated alpha) is
    divided by alpha where 0 < alpha < 1 and left alone elsewhere, so that colour transforms see the
    surface's own colour. An EXR is placed in its display window (black where it has no data). Of a
    file with several pictures or layers the first picture's R, G, B (and A) are read.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    Still
        pixels float32 (H, W, 3); never NaN or infinite.

    Raises
    ------
    PictureError
        Missing, unreadable, empty, cut short, damaged or not a picture; larger than
        :data:`MOST_PIXELS`; CMYK, Lab or an unexpected set of channels; 32-bit whole numbers or
        64-bit floats; NaN or infinity in the pixels (how many and where the first is).
    """
    path = Path(path)
    keeper = once.held()
    still = None if keeper is None else keeper.still(path)
    if still is None:
        return _read(path)
    return still.still() if isinstance(still, CodedStill) else still


def read_codes(path: os.PathLike[str] | str) -> CodedStill | None:
    """Read the codes of a picture of 8 or 16 bits without alpha, of at most 20 million pixels.

    None for every other picture: :func:`read` reads them all. Raises as that does.
    """
    return _guarded(Path(path), _decode_codes)


def read_either(path: os.PathLike[str] | str) -> Still | CodedStill:
    """The codes of a picture that has such (:func:`read_codes`), else the picture (:func:`read`): for those who look at
    a few of its pixels. One that is decoded already is not decoded again."""
    keeper = once.held()
    still = None if keeper is None else keeper.still(Path(path))
    return still or _either(Path(path))


def _either(path: Path) -> Still | CodedStill:
    return read_codes(path) or _read(path)


def read_once(paths: Iterable[Path]) -> AbstractContextManager[None]:
    """For the time of the block each of these is decoded once: ahead of time, side by side, as memory allows.

    Codes are kept where a picture has such, and :func:`read` makes pixels of them each time: who needs a few of them
    takes :func:`read_either`. What is kept is shared and not to be written to. A fault is raised by whoever reads the
    still.
    """

    def sized() -> Iterator[tuple[Path, int]]:
        for path in paths:
            width, height = size_of(path)
            yield path, width * height

    return once.kept(sized(), _either)


def _read(path: Path) -> Still:
    return _guarded(path, _decode)


def _guarded(path: Path, decode: Callable[[Path, Format], T]) -> T:
    """What ``decode`` makes of the file, and one clear line of what goes wrong."""
    kind = _recognise(path)
    try:
        if kind is EXR:
            _check_exr_header(path)
        with libpng_quiet() if kind is PNG else contextlib.nullcontext():
            return decode(path, kind)
    except OSError as exc:  # it was there a moment ago
        raise PictureError(str(path), reason(exc, "a picture")) from None
    except MemoryError:
        raise PictureError(str(path), "no memory for a picture of this size", hint="scale it down") from None


def _recognise(path: Path) -> Format:
    """The format by the file's first bytes; refuses what is not a regular file with a picture in it."""
    with opened(path, "a picture", PictureError, folder="name a file in it") as file:
        try:
            head = file.read(16)
        except OSError as exc:
            raise PictureError(str(path), reason(exc)) from None
    if not head:
        raise PictureError(str(path), "the file is empty", expected=f"a {READABLE} picture")
    kind = by_content(head)
    if kind is None:
        named = by_suffix(path.suffix)
        got = f"the content is not {named.name}" if named else "this is not a picture that can be read"
        if head[4:8] == b"ftyp":
            hint = "take stills out of it with 'lookwright frames'"
            raise PictureError(str(path), "this is a clip, not a still", hint=hint)
        raise PictureError(str(path), got, expected=f"a {READABLE} file")
    return kind


def _damaged(path: Path, kind: Format, detail: str) -> PictureError:
    """One line from OpenImageIO's report, which may have several and repeat the path."""
    # libtiff names a scanline of 2^32 - 1 when it knows none.
    detail = detail.replace(f'("{path}")', "").replace("Read error at scanline 4294967295; ", "")
    detail = " ".join(detail.split())
    packed = re.search(r"(\w+) compression support is not configured|[Cc]ompression scheme (\d+)", detail)
    if packed:
        name = packed[1] or f"number {packed[2]}"
        return PictureError(
            str(path), f"its compression, {name}, cannot be read here", "LZW, ZIP (deflate) or none", "save it again so"
        )
    got = f"the {kind.name} is damaged or cut short" + (f" ({detail[:160]})" if detail else "")
    return PictureError(str(path), got, hint="export or copy it again")


def _said(speaker: Any) -> str:
    """The library's last message; it may quote bytes of a damaged file that are no text."""
    try:
        return str(speaker.geterror())
    except UnicodeDecodeError:
        return "its header holds bytes that are no text"


@dataclass(frozen=True)
class _Opened:
    """A file that OpenImageIO has opened, its header checked."""

    source: Any
    spec: Any
    colours: int
    has_alpha: bool
    depth: str
    bits: int
    """Of a code; 0 for floating point."""

    @property
    def count(self) -> int:
        """Channels that are read."""
        return self.colours + self.has_alpha


@contextlib.contextmanager
def _opened(path: Path, kind: Format) -> Iterator[_Opened]:
    """The checked header; whether the file ends well is looked at when the block has read the pixels."""
    import OpenImageIO as oiio

    # Without this hint colour is multiplied by alpha on reading, which loses codes.
    config = oiio.ImageSpec()
    config.attribute("oiio:UnassociatedAlpha", 1)
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError:
        raise PictureError(str(path), "the name is not valid UTF-8", hint="rename the file") from None
    source = oiio.ImageInput.open(str(path), config)
    if source is None:
        raise _damaged(path, kind, _said(oiio))
    try:
        if source.format_name() != kind.plugin:
            raise _damaged(path, kind, "")
        spec = source.spec()
        _check_size(path, kind, spec)
        colours, has_alpha = _check_channels(path, kind, spec)
        depth, bits = _depth(path, spec)
        yield _Opened(source, spec, colours, has_alpha, depth, bits)
        if kind is PNG and not png_is_whole(path):
            raise _damaged(path, kind, "the closing IEND is missing")
        if kind is WEBP and not webp_is_whole(path):
            raise _damaged(path, kind, "its end is missing")
    finally:
        source.close()


def _decode(path: Path, kind: Format) -> Still:
    with _opened(path, kind) as file:
        spec = file.spec
        if kind is DPX and file.bits == 10 and file.has_alpha and spec.width % 3 == 1:
            # OpenImageIO 3.2 returns a wrong alpha at the end of each row of such files.
            raise PictureError(
                str(path),
                f"the alpha of a 10-bit DPX {spec.width} pixels wide cannot be read",
                hint="write it without alpha or with 16 bits",
            )
        _check_memory(path, spec, file.has_alpha)
        pixels, alpha = _planes(path, kind, file)
        notes, icc = _notes(spec)
        window = _window(spec) if kind is EXR else None
        divided = kind not in (EXR, TIFF) or spec.get_int_attribute("oiio:UnassociatedAlpha")
        orientation = spec.get_int_attribute("Orientation", 1)
    if window is not None:
        pixels = _place(pixels, window)
        alpha = None if alpha is None else _place(alpha[..., None], window)[..., 0]
    pixels = np.ascontiguousarray(_upright(pixels, orientation))
    alpha = None if alpha is None else np.ascontiguousarray(_upright(alpha, orientation))
    if alpha is not None and not divided:
        pixels = np.ascontiguousarray(_unassociated(pixels, alpha))
    return Still(pixels, alpha, file.depth, path, icc, notes)


def _decode_codes(path: Path, kind: Format) -> CodedStill | None:
    with _opened(path, kind) as file:
        spec = file.spec
        if file.count != 3 or file.bits not in (8, 16) or spec.width * spec.height > _LARGE:
            return None
        codes = _quick(path, kind, file)
        if codes is None:
            codes = _rows(path, kind, file, None)
        notes, icc = _notes(spec)
        orientation = spec.get_int_attribute("Orientation", 1)
    return CodedStill(np.ascontiguousarray(_upright(codes, orientation)), path, icc, notes)


def size_of(path: os.PathLike[str] | str) -> tuple[int, int]:
    """(width, height) as a picture's header has it, (0, 0) where it cannot be read: for an estimate of the cost."""
    import OpenImageIO as oiio

    try:
        with open_regular(path), libpng_quiet():
            source = oiio.ImageInput.open(str(path))
    except (OSError, ValueError, TypeError):  # the last for a name that is no UTF-8
        return 0, 0
    if source is None:
        _said(oiio)
        return 0, 0
    spec = source.spec()
    source.close()
    return max(spec.width, spec.full_width), max(spec.height, spec.full_height)


def _check_memory(path: Path, spec: Any, has_alpha: bool) -> None:
    """Refuse a large picture for which there is no memory, before any of it is taken."""
    frame = max(spec.width * spec.height, spec.full_width * spec.full_height)
    if frame <= _LARGE:
        return
    need = frame * (16 if has_alpha else 12) + spec.image_bytes() * bool(spec.tile_width)
    free = available()
    if free is not None and need > free:
        raise PictureError(
            str(path),
            f"{spec.width}x{spec.height} pixels need {in_words(need)} of memory, and {in_words(free)} is free",
            hint="scale it down, or end other programs",
        )


def _planes(path: Path, kind: Format, file: _Opened) -> tuple[Float32, Float32 | None]:
    """Colour (H, W, 3) and alpha (H, W) or None, read and converted in bands of rows: no second copy is ever held."""
    spec, bits, colours = file.spec, file.bits, file.colours
    height, width = spec.height, spec.width
    pixels = np.empty((height, width, 3), np.float32)
    if (quick := _quick(path, kind, file)) is not None:
        return _normalise(quick, bits, pixels), None
    alpha = np.empty((height, width), np.float32) if file.has_alpha else None
    # Few rows are read at once: some libraries decode in parallel only what they are asked for together.
    step = height if spec.tile_width or width * height <= _LARGE else max(256, _BAND // width // 256 * 256)
    for top in range(0, height, step):
        end = min(top + step, height)
        codes = _rows(path, kind, file, None if step >= height else (top, end))
        if file.count == 3 and bits:  # straight to where they belong
            _normalise(codes, bits, pixels[top:end])
            continue
        data = _normalise(codes, bits)
        if bits == 0:
            _refuse_not_numbers(path, data, top)
        pixels[top:end] = data[..., :colours]  # grey goes into all three
        if alpha is not None:
            alpha[top:end] = data[..., colours]
    return pixels, alpha


def _rows(path: Path, kind: Format, file: _Opened, rows: tuple[int, int] | None) -> NDArray[Any]:
    """(H, W, channels) as the library gives them: some rows, or the whole picture."""
    spec, count = file.spec, file.count
    # Whole numbers are divided here, exactly; half is widened by the library, exactly.
    stored = "float" if file.bits == 0 else spec.format
    try:
        if rows is None:
            raw = file.source.read_image(0, 0, 0, count, stored)
        else:
            raw = file.source.read_scanlines(spec.y + rows[0], spec.y + rows[1], 0, 0, count, stored)
    except MemoryError:
        raise PictureError(str(path), f"no memory for {spec.width}x{spec.height} pixels") from None
    fault = _said(file.source)
    # JPEG gives grey rows with only the message set, so the message alone is a refusal.
    if raw is None or fault:
        raise _damaged(path, kind, fault)
    return np.asarray(raw).reshape(-1, spec.width, count)


def _quick(path: Path, kind: Format, file: _Opened) -> png.Codes | None:
    """The codes by way of :mod:`.png`, which checks all that libpng does; None where the library must be asked."""
    pixels = file.spec.width * file.spec.height
    if kind is not PNG or file.count != 3 or file.bits not in (8, 16) or pixels > _LARGE:
        return None
    if not png.pays(pixels):
        return None
    return png.decode(path, file.spec.width, file.spec.height, file.bits)


def _check_exr_header(path: Path) -> None:
    """Refuses headers of too many attributes, which would hold the library up (OpenEXR file layout: name, type, size).

    Counts over all parts of a file; what is not a header is left to the library to refuse.
    """
    with open_regular(path) as file:
        head = file.read(4 << 20)
    at, count = 8, 0
    while at < len(head):
        if head[at] == 0:  # the end of a part's header; the next part's follows only in a file of several parts
            at += 1
            if at >= len(head) or head[at] == 0 or not head[5] & 0x10:
                return
        kind = head.find(b"\0", at) + 1
        size = head.find(b"\0", kind) + 1
        if not kind or not size or size + 4 > len(head):
            break
        at = size + 4 + int.from_bytes(head[size : size + 4], "little")
        count += 1
        if count > _MOST_ATTRIBUTES:
            raise PictureError(str(path), f"its header has more than {_MOST_ATTRIBUTES} attributes", "fewer")


def _check_size(path: Path, kind: Format, spec: Any) -> None:
    for width, height in ((spec.width, spec.height), (spec.full_width, spec.full_height)):
        if width < 1 or height < 1:
            raise PictureError(str(path), f"the header says {width}x{height} pixels")
        if width * height > MOST_PIXELS:
            raise PictureError(
                str(path),
                f"the header says {width}x{height}, {width * height / 1e6:.0f} million pixels",
                f"at most {MOST_PIXELS / 1e6:.0f} million",
                "scale it down, or check that the file is whole",
            )
    pixels, frame = spec.width * spec.height, spec.full_width * spec.full_height
    if kind in (JPEG, WEBP) and pixels > max(_LARGE, DENSEST * path.stat().st_size):
        raise _damaged(path, kind, f"{spec.width}x{spec.height} pixels in {path.stat().st_size} bytes")
    if frame > max(_LARGE, _MOST_FRAME * pixels):
        raise PictureError(
            str(path),
            f"{spec.width}x{spec.height} pixels in a display window of {spec.full_width}x{spec.full_height}",
            f"a window of at most {_MOST_FRAME} times the data",
        )
    if spec.deep or spec.depth > 1:
        raise PictureError(str(path), "deep or volume data", "a flat picture")


def _check_channels(path: Path, kind: Format, spec: Any) -> tuple[int, bool]:
    """(1 or 3 colour channels, whether alpha follows); refuses every other arrangement."""
    foreign = spec.get_string_attribute("jpeg:ColorSpace" if kind is JPEG else "tiff:ColorSpace")
    model = _TIFF_FOREIGN.get(spec.get_int_attribute("tiff:PhotometricInterpretation"), "")
    if model or foreign in ("CMYK", "YCCK"):
        raise PictureError(
            str(path), f"the colours are {model or 'CMYK inks'}", "grey or RGB", "convert it to RGB first"
        )
    try:
        names = list(spec.channelnames)
    except UnicodeDecodeError:
        raise _damaged(path, kind, "its channel names are no text") from None
    colours = 3 if names[:3] == ["R", "G", "B"] else 1 if names[:1] == ["Y"] else 0
    rest = names[colours:]
    has_alpha = bool(rest) and spec.alpha_channel == colours
    extra = rest[has_alpha:]
    # Further EXR channels (depth, identifiers, layers) stand beside the picture and are not part of it.
    allowed = kind is EXR and colours == 3
    if not colours or (extra and not allowed):
        raise PictureError(
            str(path),
            f"its channels are {', '.join(names[:8])}{', ...' if len(names) > 8 else ''}",
            "grey or R, G, B, with or without alpha",
            "write it again with these channels only",
        )
    return colours, has_alpha


def _depth(path: Path, spec: Any) -> tuple[str, int]:
    """(depth name, bits of the code; 0 for floating point)."""
    formats = spec.channelformats
    kind = str(formats[0] if formats else spec.format)
    if kind in ("half", "float"):
        return kind, 0
    full = {"uint8": 8, "uint16": 16}.get(kind)
    if full is None:
        raise PictureError(
            str(path), f"its numbers are of type {kind}", "8 to 16 bits, half or float", "convert it first"
        )
    bits = spec.get_int_attribute("oiio:BitsPerSample", full)
    # Fewer than eight bits arrive stretched to the full eight; nine to fifteen with their code on top.
    bits = full if not 8 < bits < full else bits
    return str(bits) if str(bits) in DEPTHS else "16", bits


def _normalise(raw: NDArray[Any], bits: int, out: Float32 | None = None) -> Float32:
    """Whole-number codes as code / (2^bits - 1) in float32, in ``out`` where it is given; floating point unchanged."""
    if bits == 0:
        return raw.astype(np.float32, copy=False)
    if bits not in (8, 16):
        # The library repeats the top bits below the code; the shift gives back the code itself.
        raw = raw >> (16 - bits)
    return np.divide(raw, np.float32((1 << bits) - 1), out=out, dtype=np.float32)


def _refuse_not_numbers(path: Path, data: Float32, top: int = 0) -> None:
    finite = np.isfinite(data)
    if finite.all():
        return
    bad = ~finite.all(axis=2)
    y, x = (int(v) for v in np.argwhere(bad)[0])
    what = "NaN (not a number)" if np.isnan(data).any() else "infinite"
    if what != "infinite" and np.isinf(data).any():
        what = "NaN or infinite"
    count = int(bad.sum())
    raise PictureError(
        str(path),
        f"{count} pixel{'s are' if count > 1 else ' is'} {what}, the first at x {x}, y {top + y}",
        "finite numbers",
        "mend the render or the export",
    )


def _window(spec: Any) -> tuple[int, int, int, int] | None:
    """(x, y, width, height): the data's place in the display window, or None when they coincide."""
    x, y = spec.x - spec.full_x, spec.y - spec.full_y
    if (x, y, spec.width, spec.height) == (0, 0, spec.full_width, spec.full_height):
        return None
    return x, y, spec.full_width, spec.full_height


def _place(data: Float32, window: tuple[int, int, int, int]) -> Float32:
    """The display window with the data in it: overscan is cut, missing parts are zero."""
    x, y, width, height = window
    frame = np.zeros((height, width, data.shape[2]), np.float32)
    top, left = max(y, 0), max(x, 0)
    bottom, right = min(y + data.shape[0], height), min(x + data.shape[1], width)
    if bottom > top and right > left:
        frame[top:bottom, left:right] = data[top - y : bottom - y, left - x : right - x]
    return frame


def _upright(data: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Apply the Orientation tag (TIFF 6.0 / Exif, values 1 to 8; others are taken as 1)."""
    if orientation in (5, 6, 7, 8):
        data = data.swapaxes(0, 1)
    if orientation in (2, 3, 6, 7):
        data = data[:, ::-1]
    if orientation in (3, 4, 7, 8):
        data = data[::-1]
    return data


def _unassociated(pixels: Float32, alpha: Float32) -> Float32:
    partial = (alpha > 0) & (alpha < 1)
    if not partial.any():
        return pixels
    divisor = np.where(partial, alpha, np.float32(1))[..., None]
    return np.divide(pixels, divisor, dtype=np.float32)


def _notes(spec: Any) -> tuple[dict[str, str | int | float], bytes | None]:
    notes: dict[str, str | int | float] = {}
    icc = None
    for item in spec.extra_attribs:
        try:
            name, value = item.name, item.value
        except UnicodeDecodeError:
            continue  # a remark in some older code page does not matter to the picture
        if name == "ICCProfile":
            icc = np.asarray(value, np.uint8).tobytes()
        elif isinstance(value, str | int | float) and not name.startswith("ICCProfile:"):
            notes[name] = value
    return notes, icc


def png_is_whole(path: os.PathLike[str] | str) -> bool:
    """Whether the chunks of a PNG run without a gap to its IEND (PNG specification, 5.3 and 11.2.5).

    libpng stops reading once it has all rows, so a file that lost its last bytes passes there.
    """
    with open_regular(path) as file:
        size = file.seek(0, os.SEEK_END)
        if size < 20:
            return False
        file.seek(-12, os.SEEK_END)
        if file.read(12) == b"\0\0\0\0IEND\xaeB`\x82":
            return True
        at = 8
        while at + 12 <= size:
            file.seek(at)
            length, name = struct.unpack(">I4s", file.read(8))
            at += 12 + length
            if name == b"IEND":
                return at <= size
    return False


def webp_is_whole(path: os.PathLike[str] | str) -> bool:
    """Whether a WebP is as long as its header says (RFC 9649, 2.4: the size counts from byte 8)."""
    with open(path, "rb") as file:
        head = file.read(8)
        return file.seek(0, os.SEEK_END) >= 8 + int.from_bytes(head[4:], "little")
