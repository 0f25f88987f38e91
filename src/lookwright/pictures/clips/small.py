"""The frames of a clip made small by FFmpeg while they are still Y'CbCr: for measuring, not for showing."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.errors import PictureError

from .colour import Levels, Range, to_rgb
from .decode import av_library, decoded, open_clip
from .read import FLAGS, SEEK_BEYOND, Clip, ClipFrame


def small_frames(
    clip: Clip,
    width: int,
    first: float = 0.0,
    last: float = float("inf"),
    levels: Levels = "expand",
    every: int = 1,
) -> Iterator[ClipFrame]:
    """Each ``every``-th frame shown from ``first`` to before ``last`` seconds, at most ``width`` pixels wide, upright.

    All are decoded, so that damage anywhere among them is noticed. As
    :func:`lookwright.pictures.clips.read.all_frames` else: matrix, range and levels, and a :class:`PictureError` for
    damage after the frames before it were given.
    """
    if 0.0 < clip.seconds <= first:
        raise PictureError(str(clip.path), f"ends at {clip.seconds:.3f} s, before {first:g} s", "an earlier beginning")
    with open_clip(clip.path) as (container, stream):
        start = float((stream.start_time or 0) * stream.time_base)
        if first > SEEK_BEYOND:
            container.seek(int((first + start) / stream.time_base), stream=stream, backward=True)
        graph: Any = None
        number = 0
        for frame in decoded(clip.path, container, stream):
            time = float(frame.time or 0.0) - start
            if time >= last - 1e-6:
                return
            if time < first - 1e-6:
                continue
            if number % every == 0:
                graph = graph or _shrinking(clip, frame, width)
                yield _converted(clip, graph, frame, time, levels)
            number += 1


def _shrinking(clip: Clip, frame: Any, width: int) -> Any:
    graph = av_library().filter.Graph()
    wide = min(width, frame.width)
    high = max(1, round(frame.height * wide / frame.width))
    if clip.rgb:
        target, more = "gbrp16le", ""
    else:
        full = frame.format.name.startswith("yuvj")
        target, more = "yuv444p16le", ":in_range=full:out_range=full" if full else ""
    nodes = [
        graph.add_buffer(
            width=frame.width, height=frame.height, format=frame.format.name, time_base=Fraction(frame.time_base)
        ),
        graph.add("scale", f"{wide}:{high}:flags={FLAGS.replace('bicubic', 'area')}{more}"),
        graph.add("format", target),
        graph.add("buffersink"),
    ]
    for one, other in pairwise(nodes):
        one.link_to(other)
    graph.configure()
    return graph


def _converted(clip: Clip, graph: Any, frame: Any, time: float, levels: Levels) -> ClipFrame:
    pts, base, rotation = int(frame.pts or 0), Fraction(frame.time_base), frame.rotation
    frame.colorspace, frame.color_range = 2, 0  # tags would ask the scaler for a conversion
    graph.push(frame)
    codes = _planes(graph.pull()).astype(np.float64)
    if clip.rgb:
        pixels = codes[..., [2, 0, 1]] / 65535.0  # planes come as G, B, R
        if clip.range == "legal" and levels == "expand":
            pixels = (pixels - 64.0 / 1023.0) / (876.0 / 1023.0)
    else:
        range_: Range = "full" if clip.range == "full" else "legal"
        pixels = to_rgb(codes / 2.0 ** (16 - clip.bits), clip.bits, clip.matrix, range_, levels)
    upright = np.rot90(pixels, round(rotation / 90.0) % 4) if rotation else pixels
    return ClipFrame(np.ascontiguousarray(upright, np.float32), time, pts, base)


def _planes(frame: Any) -> NDArray[np.uint16]:
    planes = []
    for plane in frame.planes:
        rows = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
        planes.append(rows[:, : plane.width * 2].view("<u2"))
    return np.stack(planes, axis=-1)
