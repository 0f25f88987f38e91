"""Opening clips and decoding them so that damage is told: no frame that leans on a broken one is passed on.

A clip is opened as a regular file and read as QuickTime, MP4 or Matroska, by its content and by nothing else, so that
a list of other files is refused instead of followed. Decoders fill what they cannot read from the frames around it and
say nothing (H.264 with a dozen flipped bits, measured), so they are asked to be strict, and the first sign of damage
ends the reading. H.264 has no checksum: of single flipped bits 13 in 100 (CABAC) to 48 in 100 (CAVLC) passed for sound
code, while of a dozen in one clip some were noticed in each of 120 tries (libx264, 48 frames, measured).
"""

from __future__ import annotations

import contextlib
import os
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from lookwright.errors import LookwrightError, PictureError
from lookwright.installed import how_to_get
from lookwright.reading import opened

STRICT = "crccheck+bitstream+buffer+careful+explode"
"""FFmpeg's err_detect: checks that a sound stream of any maker passes, and an error for each that fails. Not
``aggressive``, which also objects to habits of encoders."""

WHOLE = "a whole .mov or .mp4 file"

MOST_BOXES = 10_000
"""Boxes looked at on the top level of a file."""

_BOXES = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot", b"uuid", b"styp", b"sidx")


def av_library() -> Any:
    """PyAV, or one clear line about the extra that brings it."""
    try:
        import av
    except ImportError:
        raise LookwrightError(
            "clips",
            "the extra 'clips' is not installed",
            hint=how_to_get("clips"),
        ) from None
    return av


@contextlib.contextmanager
def open_clip(path: Path) -> Iterator[tuple[Any, Any]]:
    """PyAV's container and its first picture track.

    Raises :class:`PictureError` for what is no regular file, no clip, cut short, or damaged, within the block too.
    """
    av = av_library()
    try:
        str(path).encode("utf-8")  # stills and messages are named after it
    except UnicodeEncodeError:
        raise PictureError(str(path), "the name is not valid UTF-8", hint="rename the file") from None
    with opened(path, "a clip", PictureError, folder="name a clip in it") as file:
        try:
            with av.open(file, format=_format_of(path, file)) as container:
                if not container.streams.video:
                    raise PictureError(str(path), "holds no picture track", "a .mov or .mp4 clip")
                stream = container.streams.video[0]
                if stream.codec_context is None or not stream.time_base:
                    raise PictureError(str(path), "is damaged, or of a codec that is not known", WHOLE)
                _demand_all_there(path, stream, os.fstat(file.fileno()).st_size)
                stream.codec_context.options = {"err_detect": STRICT}
                yield container, stream
        except MemoryError:
            raise PictureError(str(path), "no memory for frames of this size") from None
        except (av.FFmpegError, OSError, ValueError, OverflowError) as exc:
            detail = " ".join(str(getattr(exc, "strerror", None) or exc).split())[:120]
            raise PictureError(str(path), f"cannot be read as a clip ({detail})", WHOLE) from None


def _format_of(path: Path, file: BinaryIO) -> str:
    """The reader for the content: ``matroska``, or ``mov`` for what is built of the boxes of ISO/IEC 14496-12, 4.2.

    Refuses anything else, and a file without the box that says where its frames are.
    """
    if file.read(4) == b"\x1a\x45\xdf\xa3":  # EBML, RFC 8794
        file.seek(0)
        return "matroska"
    size, at = file.seek(0, os.SEEK_END), 0
    for number in range(MOST_BOXES):
        file.seek(at)
        head = file.read(16)
        length, kind = struct.unpack(">I4s", head[:8]) if len(head) >= 8 else (0, b"")
        if number == 0 and kind not in _BOXES:
            raise PictureError(str(path), "cannot be read as a clip (its content is not that of one)", WHOLE)
        if kind == b"moov":
            break
        if length == 1 and len(head) == 16:
            (length,) = struct.unpack(">Q", head[8:])
        if not 8 <= length <= size - at:  # 0: to the end of the file
            hint = "copy it again, or let the camera mend it"
            raise PictureError(
                str(path), "cannot be read as a clip (it is cut short: its table of frames is missing)", WHOLE, hint
            )
        at += length
    file.seek(0)
    return "mov"


def _demand_all_there(path: Path, stream: Any, size: int) -> None:
    entries = stream.index_entries
    there = sum(1 for e in entries if e.pos + e.size <= size)
    if there < len(entries):
        raise PictureError(
            str(path),
            f"is cut short: {len(entries) - there} of its {len(entries)} frames are missing",
            WHOLE,
            "copy it again",
        )


def decoded(path: Path, container: Any, stream: Any) -> Iterator[Any]:
    """PyAV's frames from where the container stands, in order of showing, up to the first that cannot be trusted.

    Raises :class:`PictureError` where a frame is damaged or has another size than those before it.
    """
    av = av_library()
    start = float((stream.start_time or 0) * stream.time_base)
    first: int | None = None
    size: tuple[int, int] | None = None
    for packet in container.demux(stream):
        first = packet.pts if first is None else first
        # In an open group of pictures some are shown before the one it begins with, and lean on the group before it.
        early = None not in (packet.pts, first) and packet.pts < first
        try:
            frames = packet.decode()
        except av.FFmpegError:
            if early:
                continue
            raise _damaged(path, packet, start) from None
        if packet.is_corrupt:
            raise _damaged(path, packet, start)
        for frame in frames:
            if None not in (frame.pts, first) and frame.pts < first:
                continue
            if frame.is_corrupt:
                raise _damaged(path, frame, start)
            size = size or (frame.width, frame.height)
            if (frame.width, frame.height) != size:
                now = f"{frame.width}x{frame.height} at {float(frame.time or 0.0) - start:.3f} s"
                raise PictureError(
                    str(path), f"changes its size from {size[0]}x{size[1]} to {now}", "one size", "cut it there"
                )
            yield frame


def _damaged(path: Path, what: Any, start: float) -> PictureError:
    seconds = None if what.pts is None else float(what.pts * what.time_base) - start
    where = "near its end" if seconds is None else f"about {seconds:.3f} s"
    return PictureError(
        str(path),
        f"is damaged {where}: that frame, and those that build on it, cannot be trusted",
        WHOLE,
        "copy it again, or take only what is well before it",
    )
