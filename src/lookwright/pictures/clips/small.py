"""The frames of a clip made small by FFmpeg while they are still Y'CbCr: for measuring, not for showing."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import numpy as np

from .colour import Levels
from .read import (
    FLAGS,
    Clip,
    ClipFrame,
    plane_views,
    rgb_from_codes,
    rgb_from_wide_codes,
    scaler,
    shown_between,
    upright,
)


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
    graph: Any = None
    for number, (frame, start) in enumerate(shown_between(clip, first, last)):
        if number % every == 0:
            graph = graph or _shrinking(clip, frame, width)
            yield _converted(clip, graph, frame, start, levels)


def _shrinking(clip: Clip, frame: Any, width: int) -> Any:
    wide = min(width, frame.width)
    high = max(1, round(frame.height * wide / frame.width))
    target, more = "yuv444p16le", ""
    if clip.rgb:
        target = "gbrp16le"
    elif frame.format.name.startswith("yuvj"):
        more = ":in_range=full:out_range=full"
    base, flags = Fraction(frame.time_base), FLAGS.replace("bicubic", "area")
    return scaler(frame.width, frame.height, frame.format.name, target, base, f":w={wide}:h={high}{more}", flags)


def _converted(clip: Clip, graph: Any, frame: Any, start: float, levels: Levels) -> ClipFrame:
    frame.colorspace, frame.color_range = 2, 0  # tags would ask the scaler for a conversion
    graph.push(frame)
    codes = np.stack(plane_views(graph.pull()), axis=-1)
    if clip.rgb:
        pixels = rgb_from_codes(codes[..., [2, 0, 1]], clip, levels, 16)  # planes come as G, B, R
    else:
        pixels = rgb_from_wide_codes(codes, clip, levels)
    return upright(pixels, frame, start)
