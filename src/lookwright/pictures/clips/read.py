"""Frames of .mov and .mp4 clips as R'G'B', through PyAV (extra ``clips``).

Bit depth is kept; chroma is brought to full size by FFmpeg's own scaler, to the same codes as FFmpeg's command line
gives; matrix and range are applied here, by name (see :mod:`lookwright.pictures.clips.colour` for the traps).
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.errors import PictureError
from lookwright.memory import available, in_words
from lookwright.pictures.stills.picture import Float32

from .colour import MATRIX_CODES, PRIMARIES_CODES, RANGE_CODES, TRANSFER_CODES, WEIGHTS, Levels, Range, to_rgb
from .decode import av_library, decoded, open_clip

FLAGS = "bicubic+accurate_rnd+full_chroma_int+full_chroma_inp+bitexact"
"""How the scaler resamples chroma: as exactly as it can, and the same on every processor."""

_RGB = ("rgb24", "rgb48le", "gbrp", "gbrp9le", "gbrp10le", "gbrp12le", "gbrp14le", "gbrp16le")
"""R'G'B' formats whose codes can be had as they are."""

SEEK_BEYOND = 4.0
"""Seconds ahead from which a jump to the next key frame beats decoding on."""

_MOST_PIXELS = 150_000_000
"""Of one frame: 16K by 8K is 134 million."""
_BYTES_A_PIXEL = 100
"""At most, while a frame is converted: three channels of 8 bytes in four stages."""

_LONGEST = 1e6
"""Seconds, eleven days: no clip is longer, and its time base still counts so far."""


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
    with open_clip(path) as (container, stream):
        context = stream.codec_context
        layout = context.format
        if layout is None:
            raise PictureError(str(path), "its pixel format is not known")
        _check_size(path, int(context.width), int(context.height))
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
            raise PictureError(str(path), got, f"one of {names}", "state it with --matrix; HD is BT.709 as a rule")
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


def _check_size(path: Path, width: int, height: int) -> None:
    """Refuse frames that are none, or for which there is no memory, before any of it is taken."""
    if width < 1 or height < 1:
        raise PictureError(str(path), f"its frames are {width}x{height} pixels")
    need, free = width * height * _BYTES_A_PIXEL, available()
    if width * height > _MOST_PIXELS or (free is not None and need > free):
        has = "" if free is None else f", and {in_words(free)} is free"
        raise PictureError(
            str(path), f"frames of {width}x{height} pixels need {in_words(need)} of memory{has}", hint="scale it down"
        )


def frames_at(clip: Clip, seconds: Sequence[float], levels: Levels = "expand") -> Iterator[ClipFrame]:
    """The frames shown at the given times (counted from the first frame), in order of time, each once.

    What leads to them is decoded once before the first is given, so that nothing is given of a damaged clip. Raises
    :class:`PictureError` for damage, and for a time before the start or after the last frame.
    """
    wanted = sorted(set(seconds))
    if wanted and not (wanted[0] >= 0.0):
        raise PictureError(str(clip.path), f"no frame at {wanted[0]:g} s", "0 or later")
    if wanted and 0.0 < clip.seconds < wanted[-1]:
        raise _no_frame(clip, wanted[-1])
    for _ in _shown(clip, wanted):
        pass
    for frame, start in _shown(clip, wanted):
        yield _converted(clip, frame, start, levels)


def frames_each(clip: Clip, every: float, levels: Levels = "expand") -> Iterator[ClipFrame]:
    """The frame shown each ``every`` seconds from the first on; every frame where that is less than a frame lasts.

    Damage is looked for first, as in :func:`frames_at`.
    """
    for _ in _shown(clip, _times(clip, every), to_end=True):
        pass
    for frame, start in _shown(clip, _times(clip, every), to_end=True):
        yield _converted(clip, frame, start, levels)


def _times(clip: Clip, every: float) -> Iterator[float]:
    # Half a frame, so that none is passed over where frames are not evenly spaced.
    every = max(every, 0.5 / float(clip.rate))
    return (n * every for n in itertools.count())


def _no_frame(clip: Clip, time: float) -> PictureError:
    last = max(clip.seconds - 1.0 / float(clip.rate), 0.0)
    return PictureError(str(clip.path), f"no frame at {time:g} s", f"0 to {last:.3f} s")


def _shown(clip: Clip, times: Iterable[float], to_end: bool = False) -> Iterator[tuple[Any, float]]:
    """PyAV's frames shown at these rising times, each once, and the clip's own time of its start.

    Decodes on to the next key frame after the last of them: damage often shows in what builds on it.
    """
    half = 0.5 / float(clip.rate)  # a time typed with few digits means the frame it is nearest to the start of
    with open_clip(clip.path) as (container, stream):
        start = float((stream.start_time or 0) * stream.time_base)
        frames = decoded(clip.path, container, stream)
        shown: Any = None
        given: int | None = None
        ahead: Any = next(frames, None)
        for time in times:
            if ahead is not None and time > since(ahead, start) + SEEK_BEYOND:
                _seek(container, stream, time + start)
                frames = decoded(clip.path, container, stream)
                ahead = next(frames, None)
            while ahead is not None and since(ahead, start) <= time + min(half, 1e-3):
                shown, ahead = ahead, next(frames, None)
            if shown is None or (ahead is None and time > since(shown, start) + (half if to_end else 2.0 * half)):
                if to_end and shown is not None:
                    return
                raise _no_frame(clip, time)
            if given is None or shown.pts != given:
                given = shown.pts
                yield shown, start
        while ahead is not None and not ahead.key_frame:
            ahead = next(frames, None)


def _seek(container: Any, stream: Any, seconds: float) -> None:
    """To the last key frame before a time."""
    container.seek(int(min(seconds, _LONGEST) / stream.time_base), stream=stream, backward=True)


def all_frames(
    clip: Clip, first: float = 0.0, last: float = float("inf"), levels: Levels = "expand"
) -> Iterator[ClipFrame]:
    """Every frame shown from ``first`` to before ``last`` seconds, one at a time.

    Raises :class:`PictureError` for damage, after the frames before it were given.
    """
    for frame, start in shown_between(clip, first, last):
        yield _converted(clip, frame, start, levels)


def shown_between(clip: Clip, first: float, last: float) -> Iterator[tuple[Any, float]]:
    """PyAV's frames from ``first`` to before ``last`` seconds, and the clip's own time of its start."""
    if 0.0 < clip.seconds <= first:
        raise PictureError(str(clip.path), f"ends at {clip.seconds:.3f} s, before {first:g} s", "an earlier beginning")
    with open_clip(clip.path) as (container, stream):
        start = float((stream.start_time or 0) * stream.time_base)
        if first > SEEK_BEYOND:
            _seek(container, stream, first + start)
        for frame in decoded(clip.path, container, stream):
            time = since(frame, start)
            if time >= last - 1e-6:
                return
            if time >= first - 1e-6:
                yield frame, start


def since(frame: Any, start: float) -> float:
    """Seconds from the clip's start to this frame."""
    return float(frame.time or 0.0) - start


def rgb_from_codes(codes: NDArray[Any], clip: Clip, levels: Levels, bits: int = 0) -> NDArray[np.float64]:
    """(..., 3) codes of an R'G'B' clip as R'G'B', float64; ``levels`` as for :func:`.colour.to_rgb`.

    ``bits`` of the codes; 0: the clip's own.
    """
    pixels = np.asarray(codes, np.float64) / (2.0 ** (bits or clip.bits) - 1.0)
    return (pixels - 64.0 / 1023.0) / (876.0 / 1023.0) if clip.range == "legal" and levels == "expand" else pixels


def rgb_from_wide_codes(codes: NDArray[Any], clip: Clip, levels: Levels) -> NDArray[np.float64]:
    """(..., 3) Y'CbCr as :func:`full_size_codes` gives it as R'G'B', float64."""
    range_: Range = "full" if clip.range == "full" else "legal"
    return to_rgb(np.asarray(codes, np.float64) / 2.0 ** (16 - clip.bits), clip.bits, clip.matrix, range_, levels)


def _converted(clip: Clip, frame: Any, start: float, levels: Levels) -> ClipFrame:
    if clip.rgb:
        # Not through the scaler, which is inexact for R'G'B' (half a 10-bit code, measured).
        pixels = rgb_from_codes(frame.to_ndarray()[..., :3], clip, levels)
    else:
        pixels = rgb_from_wide_codes(full_size_codes(frame), clip, levels)
    return upright(pixels, frame, start)


def upright(pixels: NDArray[np.float64], frame: Any, start: float) -> ClipFrame:
    """The pixels of PyAV's frame, turned as its tag says."""
    turned = np.rot90(pixels, round(frame.rotation / 90.0) % 4) if frame.rotation else pixels
    return ClipFrame(
        np.ascontiguousarray(turned, np.float32), since(frame, start), int(frame.pts or 0), Fraction(frame.time_base)
    )


def full_size_codes(frame: Any) -> NDArray[np.uint16]:
    """(H, W, 3) Y', Cb, Cr of a decoded frame as 16-bit codes, chroma resampled to full size.

    A code of n bits stands in the upper n bits: a 10-bit 64 is 4096. The same codes as FFmpeg writes for
    ``-vf scale=flags=...,format=yuv444p16le`` (tests/oracle). Matrix and range are not touched.
    """
    return np.stack(full_size_planes(frame), axis=-1)


def full_size_planes(frame: Any, graphs: dict[Any, Any] | None = None) -> list[NDArray[np.uint16]]:
    """The same as three (H, W) views of FFmpeg's own memory.

    ``graphs``, the same for all frames of a clip, saves the making of a scaler and of its memory for each.
    """
    # With its tags on, the frame would be converted to the (unnamed, hence guessed) matrix of the graph.
    frame.colorspace, frame.color_range = 2, 0
    key = (frame.width, frame.height, frame.format.name, Fraction(frame.time_base))
    graph = None if graphs is None else graphs.get(key)
    if graph is None:
        range_ = ":in_range=full:out_range=full" if frame.format.name.startswith("yuvj") else ""
        graph = scaler(frame.width, frame.height, frame.format.name, "yuv444p16le", key[3], range_)
    if graphs is not None:
        graphs[key] = graph
    graph.push(frame)
    return plane_views(graph.pull())


def plane_views(frame: Any) -> list[NDArray[np.uint16]]:
    """The planes of a 16-bit frame as (H, W) views of FFmpeg's own memory."""
    planes = []
    for plane in frame.planes:
        rows = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
        planes.append(rows[:, : plane.width * 2].view("<u2"))
    return planes


def scaler(
    width: int, height: int, source: str, target: str, time_base: Fraction, more: str = "", flags: str = FLAGS
) -> Any:
    """A filter graph of PyAV that changes the pixel format, and else what ``more`` says. Its frames must carry no
    tags."""
    graph = av_library().filter.Graph()
    nodes = [
        graph.add_buffer(width=width, height=height, format=source, time_base=time_base),
        graph.add("scale", f"flags={flags}{more}"),
        graph.add("format", target),
        graph.add("buffersink"),
    ]
    for one, other in pairwise(nodes):
        one.link_to(other)
    graph.configure()
    return graph
