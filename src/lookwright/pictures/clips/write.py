"""A preview clip: H.264 in .mp4, with the tags that make a player show it as it was graded."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.colour.spaces.encodings import CURATED
from lookwright.errors import PictureError
from lookwright.files import replacing

from .codes import GradedFrame
from .colour import MATRIX_CODES, to_legal_codes
from .decode import av_library
from .read import ClipFrame, scaler


@dataclass(frozen=True)
class Tags:
    """Code points of ITU-T H.273: primaries, transfer, matrix."""

    primaries: int
    transfer: int
    matrix_code: int

    @property
    def matrix(self) -> str:
        """The matrix by name."""
        return MATRIX_CODES[self.matrix_code]


def tags_for(name: str, primaries: str) -> Tags:
    """Tags for a display signal, by the names of its encoding and primaries.

    Raises :class:`PictureError` for one that H.273 has no code points for: an untagged or wrongly tagged preview
    would be shown wrong without a word.
    """
    displays = [e for e in CURATED.values() if e.display is not None]
    known = {(e.name, t.gamut): t for e in displays if e.display for t in e.display.tags}
    if (name, primaries) not in known:
        why = next((e.display.untagged for e in displays if e.display and e.name == name), "")
        raise PictureError(
            "clip",
            f"no tags exist for {name} with {primaries} primaries" + (f": {why}" if why else ""),
            ", ".join(f"{e} with {p}" for e, p in known),
            "set the look's output so",
        )
    tags = known[name, primaries]
    return Tags(tags.primaries, tags.transfer, tags.matrix)


def write_clip(
    path: os.PathLike[str] | str,
    frames: Iterable[ClipFrame | GradedFrame],
    rate: Fraction,
    tags: Tags,
    bits: int = 8,
    quality: int = 16,
) -> int:
    """Encode frames of R'G'B' (black 0, white 1), or of codes by ``tags``, as they come, legal range, 4:2:0.

    Parameters
    ----------
    path
        ``.mp4``; appears only when complete.
    frames
        All of one size; an odd last row or column is left out, since 4:2:0 has none.
    rate
        Frames a second.
    bits
        8, which every player shows, or 10.
    quality
        x264's constant rate factor: 0 loses nothing, 16 is hard to tell from the original, 51 is the worst.

    Returns
    -------
    How many frames were written.

    Raises
    ------
    PictureError
        No frame, another suffix, or an encoder that is missing or fails.
    """
    av = av_library()
    path = Path(path)
    if path.suffix.lower() != ".mp4":
        raise PictureError(str(path), f"a clip ending in {path.suffix or 'nothing'!r}", "a name ending in .mp4")
    if bits not in (8, 10):
        raise PictureError(str(path), f"{bits} bits", "8 or 10")
    target = "yuv420p" if bits == 8 else "yuv420p10le"
    count = 0

    def coded(frame: ClipFrame | GradedFrame) -> GradedFrame:
        return _coded(frame, tags.matrix) if isinstance(frame, ClipFrame) else frame

    with replacing(path) as temporary:
        try:
            with av.open(str(temporary), "w", format="mp4", options={"movflags": "+faststart"}) as container:
                stream: Any = None
                graph: Any = None
                first = 0
                for frame in map(coded, frames):
                    whole = frame.whole
                    if stream is None:
                        # With 10 bits a rate factor of 0 still loses a little; a quantiser of 0 does not.
                        options = {"crf": str(quality)} if quality else {"qp": "0"}
                        stream = container.add_stream("libx264", rate=rate, options=options)
                        stream.width, stream.height, stream.pix_fmt = whole.width, whole.height, target
                        context = stream.codec_context
                        context.color_primaries, context.color_trc = tags.primaries, tags.transfer
                        context.colorspace, context.color_range = tags.matrix_code, 1
                        context.time_base = frame.time_base
                        # PyAV's own choice cuts each picture into slices: larger files, and cores that wait.
                        context.thread_type = "FRAME"
                        graph = scaler(whole.width, whole.height, "yuv444p16le", target, frame.time_base)
                        first = frame.pts
                    whole.pts, whole.time_base = frame.pts - first, frame.time_base
                    graph.push(whole)
                    small = graph.pull()
                    frame.release()
                    small.pts, small.time_base = frame.pts - first, frame.time_base
                    small.colorspace, small.color_range = tags.matrix_code, 1
                    for packet in stream.encode(small):
                        container.mux(packet)
                    count += 1
                if stream is None:
                    raise PictureError(str(path), "no frame to write")
                for packet in stream.encode():
                    container.mux(packet)
        except av.FFmpegError as exc:
            if isinstance(exc, OSError):  # a full disk, no permission: told as for any other file
                raise OSError(exc.errno, exc.strerror, str(path)) from None
            raise PictureError(str(path), f"could not be encoded ({' '.join(str(exc).split())[:120]})") from None
    return count


def _coded(frame: ClipFrame, matrix: str) -> GradedFrame:
    height, width = (s // 2 * 2 for s in frame.pixels.shape[:2])
    codes = to_legal_codes(np.asarray(frame.pixels[:height, :width], np.float64), 16, matrix)
    return GradedFrame(frame_of(codes, "yuv444p16le"), frame.pts, frame.time_base)


def frame_of(codes: np.ndarray, pixel_format: str) -> Any:
    """PyAV's frame of (H, W, 3) codes, rounded, in a format of three planes of 16-bit words."""
    whole = av_library().VideoFrame(codes.shape[1], codes.shape[0], pixel_format)
    for i, plane in enumerate(whole.planes):
        _fill(plane, np.rint(codes[..., i]).astype("<u2"))
    return whole


def _fill(plane: Any, values: np.ndarray) -> None:
    """Rows into a plane whose lines may be longer than the picture is wide."""
    rows = np.zeros((plane.height, plane.line_size), np.uint8)
    rows[:, : plane.width * 2] = np.ascontiguousarray(values).view(np.uint8).reshape(plane.height, plane.width * 2)
    plane.update(rows.tobytes())
