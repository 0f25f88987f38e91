"""Frames of .mov and .mp4 clips as R'G'B', through PyAV (extra ``clips``).

Bit depth is kept; chroma is brought to full size by FFmpeg's own scaler, to the same codes as FFmpeg's command line
gives; matrix and range are applied here, by name (see :mod:`lookwright.pictures.clips.colour` for the traps).
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.errors import LookwrightError, PictureError
from lookwright.installed import how_to_get
from lookwright.pictures.stills.picture import Float32

from .colour import MATRIX_CODES, PRIMARIES_CODES, RANGE_CODES, TRANSFER_CODES, WEIGHTS, Levels, Range, to_rgb

FLAGS = "bicubic+accurate_rnd+full_chroma_int+full_chroma_inp+bitexact"
"""How the scaler resamples chroma: as exactly as it can, and the same on every processor."""

_RGB = ("rgb24", "rgb48le", "gbrp", "gbrp9le", "gbrp10le", "gbrp12le", "gbrp14le", "gbrp16le")
"""R'G'B' formats whose codes can be had as they are."""

SEEK_BEYOND = 4.0
"""Seconds ahead from which a jump to the next key frame beats decoding on."""


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


@dataclass(frozen=True)
class Clip:
    """What a clip says about itself, and how it will be read."""

    path: Path
    width: int
    height: int
    codec: str
    pixel_format: str
    bits: int
    rgb: bool
    """The frames are R'G'B' already and need no matrix."""
    matrix: str
    """Empty where the file says nothing (and always for R'G'B')."""
    range: str
    """``legal``, ``full`` or empty."""
    primaries: str
    transfer: str
    rate: Fraction
    seconds: float
    notes: tuple[str, ...] = field(default=())

    def in_words(self) -> str:
        """One line, e.g. ``1920x1080, prores, yuv422p10le, BT.709 matrix, legal range, 24 frames a second``."""
        tags = "R'G'B'" if self.rgb else f"{self.matrix or 'no'} matrix"
        rate = f"{float(self.rate):g} frames a second"
        return (
            f"{self.width}x{self.height}, {self.codec}, {self.pixel_format}, {tags}, {self.range or 'no'} range, {rate}"
        )

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self) | {"path": str(self.path), "rate": float(self.rate), "notes": list(self.notes)}


@dataclass(frozen=True, eq=False)
class ClipFrame:
    """One frame: float32 (H, W, 3) R'G'B' (see ``levels``), and when it is shown."""

    pixels: Float32
    seconds: float
    pts: int
    """In units of the clip's time base."""
    time_base: Fraction


@contextlib.contextmanager
def _open(path: Path) -> Iterator[tuple[Any, Any]]:
    av = av_library()
    if not path.exists():
        raise PictureError(str(path), "there is no such file")
    try:
        with av.open(str(path)) as container:
            if not container.streams.video:
                raise PictureError(str(path), "holds no picture track", "a .mov or .mp4 clip")
            yield container, container.streams.video[0]
    except LookwrightError:
        raise
    except (av.FFmpegError, OSError, ValueError) as exc:
        detail = " ".join(str(getattr(exc, "strerror", None) or exc).split())[:120]
        raise PictureError(str(path), f"cannot be read as a clip ({detail})", "a whole .mov or .mp4 file") from None


def read_clip(path: os.PathLike[str] | str, matrix: str | None = None, range_: Range | None = None) -> Clip:
    """What the clip says, with ``matrix`` and ``range_`` in place of its tags where they are given.

    Raises
    ------
    PictureError
        Not a clip, damaged; a matrix that is not handled; or **no matrix tag**: guessing one would be right often and
        wrong unseen, so it must be named. A missing range tag is read as legal, which is what H.264 (E.2.1) and
        mezzanine codecs mean by it, and ``notes`` says so.
    """
    path = Path(path)
    with _open(path) as (container, stream):
        context = stream.codec_context
        layout = context.format
        if layout is None:
            raise PictureError(str(path), "its pixel format is not known")
        bits = max(c.bits for c in layout.components)
        rgb = bool(layout.is_rgb)
        name = str(layout.name)
        if name not in _RGB if rgb else not name.startswith(("yuv", "nv", "p0", "p2")):
            raise PictureError(str(path), f"frames of {name} are not read", "Y'CbCr or R'G'B' of 8 to 16 bits")
        said = MATRIX_CODES.get(int(context.colorspace), "")
        if not rgb and matrix is None and not said:
            code = int(context.colorspace)
            got = "does not say its matrix" if code in (0, 2) else f"has matrix {code} of H.273, which is not handled"
            names = ", ".join(WEIGHTS)
            raise PictureError(str(path), got, f"one of {names}", "name it with --matrix; HD is BT.709 as a rule")
        tagged = RANGE_CODES.get(int(context.color_range), "")
        if name.startswith("yuvj"):
            tagged = "full"
        notes = []
        if not rgb and matrix is not None and said and matrix != said:
            notes.append(f"read with the {matrix} matrix, though the file says {said}")
        if range_ is not None and tagged and range_ != tagged:
            notes.append(f"read as {range_} range, though the file says {tagged}")
        if range_ is None and not tagged:
            notes.append(
                f"the file does not say its range; read as {'full' if rgb else 'legal'}: if black is not black, "
                "try --range"
            )
        seconds = float(stream.duration * stream.time_base) if stream.duration else (container.duration or 0) / 1e6
        return Clip(
            path,
            int(context.width),
            int(context.height),
            str(context.name),
            name,
            bits,
            rgb,
            "" if rgb else (matrix or said),
            range_ or tagged or ("full" if rgb else "legal"),
            PRIMARIES_CODES.get(int(context.color_primaries), ""),
            TRANSFER_CODES.get(int(context.color_trc), ""),
            Fraction(stream.average_rate or 24),
            seconds,
            tuple(notes),
        )


def frames_at(clip: Clip, seconds: Sequence[float], levels: Levels = "expand") -> Iterator[ClipFrame]:
    """The frames shown at the given times (counted from the first frame), in order of time.

    Raises :class:`PictureError` for a time before the start or after the last frame.
    """
    wanted = sorted(set(seconds))
    if wanted and not (wanted[0] >= 0.0):
        raise PictureError(str(clip.path), f"no frame at {wanted[0]:g} s", "0 or later")
    with _open(clip.path) as (container, stream):
        start = float((stream.start_time or 0) * stream.time_base)
        half = 0.5 / float(clip.rate)  # a time typed with few digits means the frame it is nearest to the start of
        decoded = container.decode(stream)
        shown: Any = None
        ahead: Any = next(decoded, None)
        for time in wanted:
            if ahead is not None and time > _time(ahead, start) + SEEK_BEYOND:
                container.seek(int((time + start) / stream.time_base), stream=stream, backward=True)
                decoded = container.decode(stream)
                ahead = next(decoded, None)
            while ahead is not None and _time(ahead, start) <= time + min(half, 1e-3):
                shown, ahead = ahead, next(decoded, None)
            if shown is None or (ahead is None and time > _time(shown, start) + 2.0 * half):
                raise PictureError(
                    str(clip.path), f"no frame at {time:g} s", f"0 to {max(clip.seconds - 2.0 * half, 0.0):.3f} s"
                )
            yield _converted(clip, shown, start, levels)


def all_frames(
    clip: Clip, first: float = 0.0, last: float = float("inf"), levels: Levels = "expand"
) -> Iterator[ClipFrame]:
    """Every frame shown from ``first`` to before ``last`` seconds, one at a time."""
    with _open(clip.path) as (container, stream):
        start = float((stream.start_time or 0) * stream.time_base)
        if first > SEEK_BEYOND:
            container.seek(int((first + start) / stream.time_base), stream=stream, backward=True)
        for frame in container.decode(stream):
            time = _time(frame, start)
            if time >= last - 1e-6:
                return
            if time >= first - 1e-6:
                yield _converted(clip, frame, start, levels)


def _time(frame: Any, start: float) -> float:
    return float(frame.time or 0.0) - start


def _converted(clip: Clip, frame: Any, start: float, levels: Levels) -> ClipFrame:
    if clip.rgb:
        # Not through the scaler, which is inexact for R'G'B' (half a 10-bit code, measured).
        pixels = np.asarray(frame.to_ndarray(), np.float64)[..., :3] / (2.0**clip.bits - 1.0)
        if clip.range == "legal" and levels == "expand":
            pixels = (pixels - 64.0 / 1023.0) / (876.0 / 1023.0)
    else:
        codes = full_size_codes(frame).astype(np.float64)
        range_: Range = "full" if clip.range == "full" else "legal"
        pixels = to_rgb(codes / 2.0 ** (16 - clip.bits), clip.bits, clip.matrix, range_, levels)
    turned = np.rot90(pixels, round(frame.rotation / 90.0) % 4) if frame.rotation else pixels
    return ClipFrame(
        np.ascontiguousarray(turned, np.float32), _time(frame, start), int(frame.pts or 0), Fraction(frame.time_base)
    )


def full_size_codes(frame: Any) -> NDArray[np.uint16]:
    """(H, W, 3) Y', Cb, Cr of a decoded frame as 16-bit codes, chroma resampled to full size.

    A code of n bits stands in the upper n bits: a 10-bit 64 is 4096. The same codes as FFmpeg writes for
    ``-vf scale=flags=...,format=yuv444p16le`` (tests/oracle). Matrix and range are not touched.
    """
    # With its tags on, the frame would be converted to the (unnamed, hence guessed) matrix of the graph.
    frame.colorspace, frame.color_range = 2, 0
    range_ = ":in_range=full:out_range=full" if frame.format.name.startswith("yuvj") else ""
    graph = scaler(frame.width, frame.height, frame.format.name, "yuv444p16le", Fraction(frame.time_base), range_)
    graph.push(frame)
    whole = graph.pull()
    planes = []
    for plane in whole.planes:
        rows = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
        planes.append(rows[:, : plane.width * 2].view("<u2"))
    return np.stack(planes, axis=-1)


def scaler(width: int, height: int, source: str, target: str, time_base: Fraction, more: str = "") -> Any:
    """A filter graph of PyAV that changes the pixel format and nothing else. Its frames must carry no tags."""
    graph = av_library().filter.Graph()
    nodes = [
        graph.add_buffer(width=width, height=height, format=source, time_base=time_base),
        graph.add("scale", f"flags={FLAGS}{more}"),
        graph.add("format", target),
        graph.add("buffersink"),
    ]
    for one, other in pairwise(nodes):
        one.link_to(other)
    graph.configure()
    return graph
