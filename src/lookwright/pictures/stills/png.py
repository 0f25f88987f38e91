"""The codes of a common PNG, in two thirds of libpng's time. Whatever is not common, or not whole, is left to libpng.

Two libraries share the work: ISA-L inflates (in two fifths of the time zlib takes, PyAV's included), and PyAV's bare
PNG codec undoes the filters. The codec alone is no judge of damage: it passes filters that do not exist, rows that are
missing and data that end within their checksum. So everything is checked before it is asked: each chunk's CRC, the
length of the inflated data, their Adler-32, each row's filter. It gets strips of sound rows, packed anew without
compression.

This is the place for a compiled kernel: :func:`decode` is all that others know of it.
"""

from __future__ import annotations

import os
import struct
import sys
import zlib
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.reading import open_regular

Codes = NDArray[np.uint8] | NDArray[np.uint16]

_START = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"
_END = b"\0\0\0\0IEND\xaeB`\x82"
_FILTERS = 5
"""Filter types 0 to 4 (PNG specification, 9.2)."""
_STRIP = 1 << 18
"""Bytes of a strip: its copies stay in the second-level cache, and no memory goes back to the system between."""
_STORED = 65535
"""Most bytes of a block without compression (RFC 1951, 3.2.4)."""
_MOST_CHUNK = 0x7FFFFFFF


_PAYS = 3_000_000
"""Pixels in which as much is gained as importing PyAV takes (44 ms, measured)."""
_LEAST = 100_000
"""Pixels below which the strips and the codec cost more than they gain."""
_pixels = 0


class _Doubtful(Exception):
    """Not a PNG that is decoded here: libpng's to read or to refuse."""


def decode(path: os.PathLike[str] | str, width: int, height: int, bits: int) -> Codes | None:
    """The codes, (height, width, 3) of uint8 or uint16, or None where libpng must be asked.

    That is for every PNG that is not R'G'B' of 8 or 16 bits, without alpha and not interlaced, as for every one that is
    damaged or in any way unusual; and where ISA-L or PyAV (extra ``fast``) is not installed.

    Parameters
    ----------
    path
        The file.
    width, height, bits
        As its header says.
    """
    try:
        from isal import igzip_lib
    except ImportError:
        return None
    try:
        import av
    except ImportError:
        return None
    step = bits // 8
    codes = np.empty((height, width, 3), np.uint8 if step == 1 else np.uint16)
    codec = av.codec.CodecContext.create("png", "r")
    codec.thread_count = 1  # more would hand frames back later than they were asked for
    line = 3 * step * width
    try:
        data = _compressed(path, _header(width, height, bits), height * (line + 1))
        before = b""
        top = 0
        for raw in _inflated(igzip_lib, data, height, line + 1):
            made = _unfiltered(av, codec, before + raw, line, bits)
            if before:
                made = made[1:]
            # Each strip begins with the last row of the one before, unfiltered: what the filters look back to.
            before = b"\0" + made[-1].tobytes()
            codes[top : top + len(made)] = made.view(">u2" if step == 2 else np.uint8).reshape(-1, width, 3)
            top += len(made)
    except (_Doubtful, OSError, ValueError, igzip_lib.error, av.FFmpegError):
        return None
    return codes


def pays(pixels: int) -> bool:
    """Whether a picture of so many pixels, with those asked about before, is worth the start of the libraries."""
    global _pixels
    _pixels += pixels  # threads may lose each other's, which costs a moment at most
    return pixels >= _LEAST and ("av" in sys.modules or _pixels >= _PAYS)


def _header(width: int, height: int, bits: int) -> bytes:
    """IHDR of R'G'B' without alpha, not interlaced (PNG specification, 11.2.1)."""
    return struct.pack(">IIBBBBB", width, height, bits, 2, 0, 0, 0)


def _compressed(path: os.PathLike[str] | str, header: bytes, size: int) -> bytes:
    """The zlib stream of a file whose every chunk, up to IEND, is sound; ``size`` of what it stands for, in bytes."""
    from isal import isal_zlib

    with open_regular(path) as file:
        # What cannot be made smaller grows by some bytes a block; the rest is room for profiles and remarks.
        if os.fstat(file.fileno()).st_size > 2 * size + (1 << 24):
            raise _Doubtful
        data = file.read()
    if not data.startswith(_START + header):
        raise _Doubtful
    view = memoryview(data)
    parts: list[memoryview] = []
    at, ended = 8, False
    while True:
        length, name = struct.unpack_from(">I4s", view, at) if at + 12 <= len(view) else (0, b"")
        end = at + 12 + length
        if not name or length > _MOST_CHUNK or end > len(view):
            raise _Doubtful
        if isal_zlib.crc32(view[at + 4 : end - 4]) != int.from_bytes(view[end - 4 : end], "big"):
            raise _Doubtful
        if name == b"tRNS" or (name == b"IDAT" and ended) or (name == b"IHDR" and at != 8):
            raise _Doubtful
        if name == b"IEND":
            break
        if name == b"IDAT":
            parts.append(view[at + 8 : end - 4])
        ended = bool(parts) and name != b"IDAT"
        at = end
    stream = b"".join(parts)
    # Deflate with a window of 32 KB and no dictionary (RFC 1950, 2.2), as nearly all are.
    if stream[:1] != b"\x78" or stream[1] & 0x20:
        raise _Doubtful
    return stream


def _inflated(igzip: Any, data: bytes, height: int, row: int) -> Iterator[bytes]:
    """Strips of filtered rows of ``row`` bytes each, the last one given only when the checksum was right."""
    inflater = igzip.IgzipDecompressor(flag=igzip.DECOMP_ZLIB)
    rows = max(1, _STRIP // row)
    for top in range(0, height, rows):
        count = min(rows, height - top)
        strip = inflater.decompress(data, count * row)
        data = b""
        while len(strip) < count * row and not inflater.eof and not inflater.needs_input:
            strip += inflater.decompress(b"", count * row - len(strip))
        if len(strip) != count * row or max(strip[::row]) >= _FILTERS:
            raise _Doubtful
        if top + count == height and not inflater.eof and (inflater.decompress(b"", 1) or not inflater.eof):
            raise _Doubtful
        if top + count == height and inflater.unused_data:
            raise _Doubtful
        yield strip


def _unfiltered(av: Any, codec: Any, raw: bytes, line: int, bits: int) -> NDArray[np.uint8]:
    """Filtered rows as (rows, line) bytes, a view of PyAV's own memory."""
    from isal import isal_zlib

    rows = len(raw) // (line + 1)
    packed: list[bytes | memoryview] = [b"\x78\x01"]
    view = memoryview(raw)
    for at in range(0, len(raw), _STORED):
        block = view[at : at + _STORED]
        packed += [struct.pack("<BHH", at + _STORED >= len(raw), len(block), len(block) ^ 0xFFFF), block]
    packed.append(struct.pack(">I", isal_zlib.adler32(raw)))
    stream = b"".join(packed)
    head = b"IHDR" + _header(line // (3 * (bits // 8)), rows, bits)
    crc = isal_zlib.crc32(stream, isal_zlib.crc32(b"IDAT"))
    packet = av.Packet(
        b"".join(
            [
                _START[:-4],
                head,
                struct.pack(">I", zlib.crc32(head)),
                struct.pack(">I", len(stream)),
                b"IDAT",
                stream,
                struct.pack(">I", crc),
                _END,
            ]
        )
    )
    packet.is_keyframe = True  # else the picture before is added to it, as in MNG
    frames = codec.decode(packet)
    if len(frames) != 1 or frames[0].format.name != {8: "rgb24", 16: "rgb48be"}[bits]:
        raise _Doubtful
    plane = frames[0].planes[0]
    return np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)[:rows, :line]
