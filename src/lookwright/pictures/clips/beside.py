"""Two previews of one clip side by side in one picture."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, zip_longest
from pathlib import Path
from typing import Any

from lookwright.errors import PictureError
from lookwright.files import replacing

from .decode import av_library

WIDEST = 1920
"""Pixels of each side: two of UHD would be more than H.264 levels in common players go to."""

GAP = 16
"""Pixels between the two, in a neutral grey."""


def beside(left: Path, right: Path, target: Path, quality: int = 16) -> int:
    """Write two clips of equal size, times and tags side by side; returns how many frames.

    Tags are those of ``left``, sound is left out. ``target`` appears only when complete. Raises :class:`PictureError`
    where one of the two ends before the other.
    """
    av = av_library()
    count = 0
    with (
        replacing(target) as temporary,
        av.open(str(left)) as one,
        av.open(str(right)) as other,
        av.open(str(temporary), "w", format="mp4", options={"movflags": "+faststart"}) as out,
    ):
        shown = one.streams.video[0]
        stream, graph = None, None
        for a, b in zip_longest(one.decode(video=0), other.decode(video=0)):
            if a is None or b is None:
                raise PictureError(str(target), "one side has more frames than the other")
            if stream is None or graph is None:
                graph = _graph(a)
                stream = _stream(out, shown, a, quality)
            small = _joined(graph, a, b)
            small.pts, small.time_base = a.pts, a.time_base
            small.colorspace, small.color_range = shown.codec_context.colorspace, shown.codec_context.color_range
            for packet in stream.encode(small):
                out.mux(packet)
            count += 1
        if stream is not None:
            for packet in stream.encode():
                out.mux(packet)
    return count


def _sides(frame: Any) -> tuple[int, int]:
    """Width and height of each side."""
    width = min(frame.width, WIDEST) // 2 * 2
    return width, round(frame.height * width / frame.width) // 2 * 2


def _graph(frame: Any) -> tuple[Any, Any, Any, Any]:
    graph = av_library().filter.Graph()
    width, height = _sides(frame)
    base = Fraction(frame.time_base)
    ends = []
    stack = graph.add("hstack", "inputs=2")
    for pad in range(2):
        nodes = [
            graph.add_buffer(width=frame.width, height=frame.height, format=frame.format.name, time_base=base),
            graph.add("scale", f"{width}:{height}:flags=lanczos+accurate_rnd+bitexact"),
            graph.add("pad", f"iw+{GAP}:ih:0:0:color=gray" if pad == 0 else "iw:ih:0:0"),
        ]
        for a, b in pairwise(nodes):
            a.link_to(b)
        nodes[-1].link_to(stack, 0, pad)
        ends.append(nodes[0])
    sink = graph.add("buffersink")
    stack.link_to(sink)
    graph.configure()
    return graph, ends[0], ends[1], sink


def _joined(graph: tuple[Any, Any, Any, Any], a: Any, b: Any) -> Any:
    _, left, right, sink = graph
    for end, frame in ((left, a), (right, b)):
        frame.colorspace, frame.color_range = 2, 0  # tags would ask the scaler for a conversion
        frame.pts = a.pts
        end.push(frame)
    return sink.pull()


def _stream(out: Any, shown: Any, frame: Any, quality: int) -> Any:
    width, height = _sides(frame)
    stream = out.add_stream("libx264", rate=shown.average_rate, options={"crf": str(quality)})
    stream.width, stream.height, stream.pix_fmt = 2 * width + GAP, height, frame.format.name
    context, own = stream.codec_context, shown.codec_context
    context.color_primaries, context.color_trc = own.color_primaries, own.color_trc
    context.colorspace, context.color_range = own.colorspace, own.color_range
    context.time_base = frame.time_base
    return stream
