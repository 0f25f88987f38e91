"""Frames graded from their codes to the codes of a preview, without pictures of floating point between.

A picture of float64 for each stage takes longer than decoding and encoding together. Here planes of 16-bit codes go in
and come out, a band of rows at a time as (N, 4) float32. Where the grade is a transform of OpenColorIO, it stands
between two matrices (code to R'G'B', range and levels in it, and back) in one processor. Any other grade is called
between the same matrices. These are those of :func:`.colour.to_rgb` and :func:`.colour.to_legal_codes`, asked of them.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array, Pixels
from lookwright.colour.spaces.ranges import Range, to_full

from .colour import Levels, to_legal_codes
from .decode import av_library
from .read import Clip, full_size_planes, plane_views, rgb_from_codes, rgb_from_wide_codes, shown_between, since

T = TypeVar("T")
Codes = NDArray[np.uint16]

BAND = 1 << 15
"""Pixels worked on at once by a thread: half a megabyte of float32, which the second-level cache holds."""


@dataclass(frozen=True, eq=False)
class CodedFrame:
    """One frame of a clip as it was coded, chroma at full size, and when it is shown."""

    planes: tuple[Codes, ...]
    """Three of (H, W): Y', Cb, Cr as 16-bit codes (see :func:`.read.full_size_codes`), or R', G', B' as the clip has
    them."""
    seconds: float
    pts: int
    """In units of the clip's time base."""
    time_base: Fraction


@dataclass(frozen=True, eq=False)
class GradedFrame:
    """One frame ready for the encoder: PyAV's, 16-bit legal-range Y'CbCr 4:4:4, of even width and height."""

    whole: Any
    pts: int
    time_base: Fraction
    back: Callable[[Any], None] | None = None

    def release(self) -> None:
        """The picture is not looked at any more: its memory may be taken for another."""
        if self.back is not None:
            self.back(self.whole)


def all_codes(clip: Clip, first: float = 0.0, last: float = float("inf")) -> Iterator[CodedFrame]:
    """As :func:`.read.all_frames`, the codes not yet turned into R'G'B'."""
    graphs: dict[Any, Any] = {}
    for frame, start in shown_between(clip, first, last):
        if clip.rgb:
            planes = list(np.moveaxis(np.asarray(frame.to_ndarray()[..., :3], np.uint16), -1, 0))
        else:
            planes = full_size_planes(frame, graphs)
        if frame.rotation:
            planes = [np.rot90(p, round(frame.rotation / 90.0) % 4) for p in planes]
        yield CodedFrame(tuple(planes), since(frame, start), int(frame.pts or 0), Fraction(frame.time_base))


class Grading:
    """Turns frames of a clip into frames for the encoder.

    Parameters
    ----------
    clip, levels
        What is read; see :func:`.colour.to_rgb`.
    grade
        Changes (N, 4) contiguous float32, the R'G'B' of the clip and an alpha to be left alone, to the output signal.
        Called from several threads at once.
    range_
        Of the output signal.
    matrix
        Of the codes that are made.
    transform
        OpenColorIO's transform that does what ``grade`` does, in place of it; None where there is none.
    within
        It gives nothing outside 0..1, and need not be cut there (3 ms a frame of 1080p, measured).
    """

    def __init__(
        self,
        clip: Clip,
        levels: Levels,
        grade: Callable[[Pixels], None],
        range_: Range,
        matrix: str,
        threads: int = 0,
        transform: Any = None,
        within: bool = False,
    ) -> None:
        import PyOpenColorIO as ocio

        self.threads = threads or os.cpu_count() or 1

        def read(codes: Array) -> Array:
            return rgb_from_codes(codes, clip, levels) if clip.rgb else rgb_from_wide_codes(codes, clip, levels)

        # Half a code more: what is left to do is to cut them to whole numbers.
        legal = _matrix(lambda rgb: to_legal_codes(rgb, 16, matrix) + 0.5, 1.0)
        cut = ocio.RangeTransform(0.0, 1.0, 0.0, 1.0)
        before, after = [_matrix(read, 65535.0)], [_matrix(lambda rgb: to_full(rgb, range_), 1.0), cut, legal]
        if within and range_ == "full":
            after = [legal]
        self._parts: list[Callable[[Pixels], None]]
        if transform is not None:
            self._parts = [_processor([*before, *_joined(transform, after)])]
        else:
            self._parts = [_processor(before), grade, _processor(after)]
        self._free: deque[Any] = deque()
        """Frames for the encoder that are not looked at any more: fresh memory costs 2 ms a frame (1080p, measured)."""

    def __call__(self, frame: CodedFrame) -> GradedFrame:
        height, width = (size // 2 * 2 for size in frame.planes[0].shape)  # 4:2:0 has no odd ones
        whole = self._target(width, height)
        targets = [t[:, :width] for t in plane_views(whole)]
        rows = max(1, BAND // width)
        todo = iter(range(0, height, rows))

        def work() -> None:
            picture = np.empty((rows, width, 4), np.float32)
            picture[..., 3] = 1.0
            for top in todo:  # each thread takes the next band itself
                bottom = min(top + rows, height)
                band = picture[: bottom - top]
                # numpy packs planes in two thirds of OpenColorIO's time (4 ms a frame of 1080p, both ways).
                for i, plane in enumerate(frame.planes):
                    np.copyto(band[..., i], plane[top:bottom, :width])
                for part in self._parts:
                    part(band.reshape(-1, 4))
                for i, target in enumerate(targets):
                    np.copyto(target[top:bottom], band[..., i], casting="unsafe")

        helpers = min(self.threads, -(-height // rows)) - 1
        with ThreadPoolExecutor(max(1, helpers)) as pool:
            others = [pool.submit(work) for _ in range(helpers)]
            work()
            for other in others:
                other.result()
        return GradedFrame(whole, frame.pts, frame.time_base, self._free.append)

    def _target(self, width: int, height: int) -> Any:
        try:
            whole = self._free.pop()
        except IndexError:
            whole = None
        if whole is None or (whole.width, whole.height) != (width, height):
            return av_library().VideoFrame(width, height, "yuv444p16le")
        whole.make_writable()  # another buffer where a filter still holds this one
        return whole


def _matrix(function: Callable[[Array], Array], white: float) -> Any:
    """A function of (..., 3) that is a matrix and an offset, as OpenColorIO's transform; ``white`` is usual input."""
    import PyOpenColorIO as ocio

    offset = np.asarray(function(np.zeros(3)))
    columns = (np.asarray(function(white * np.eye(3))) - offset) / white
    whole = np.eye(4)
    whole[:3, :3] = columns.T
    return ocio.MatrixTransform(whole.ravel().tolist(), [*offset.tolist(), 0.0])


def _joined(transform: Any, after: list[Any]) -> list[Any]:
    """The transform and what comes after it. A matrix after a lattice is worked into what its points give: between
    them all is linear. That saves 2 ms a frame of 1080p, and a rounding."""
    import PyOpenColorIO as ocio

    *first, last = transform
    if not isinstance(last, ocio.Lut3DTransform) or len(after) > 1:
        return [transform, *after]
    table = np.array(last.getData(), np.float64).reshape(-1, 3)
    matrix = np.reshape(after[0].getMatrix(), (4, 4))[:3, :3]
    lattice = ocio.Lut3DTransform(gridSize=last.getGridSize())
    lattice.setInterpolation(last.getInterpolation())
    lattice.setData((table @ matrix.T + after[0].getOffset()[:3]).astype(np.float32).ravel())
    return [*first, lattice]


def _processor(transforms: list[Any]) -> Callable[[Pixels], None]:
    """What changes (N, 4) contiguous float32 where it lies."""
    import PyOpenColorIO as ocio

    group = ocio.GroupTransform()
    for transform in transforms:
        group.appendTransform(transform)
    floating = ocio.BIT_DEPTH_F32
    made = ocio.Config.CreateRaw().getProcessor(group)
    made = made.getOptimizedCPUProcessor(floating, floating, ocio.OPTIMIZATION_LOSSLESS)

    def through(picture: Pixels) -> None:
        made.apply(ocio.PackedImageDesc(picture, len(picture), 1, 4))

    return through


def ahead(items: Iterator[T], count: int = 2) -> Iterator[T]:
    """The same items, so many of them made in a thread of its own while the one before is worked on.

    A fault among them is raised where its item would have come. Closing this ends the thread; ``items`` is the
    caller's to close.
    """
    end: Any = object()
    waiting: deque[Future[Any]] = deque()
    with ThreadPoolExecutor(1) as pool:
        try:
            waiting.extend(pool.submit(next, items, end) for _ in range(count))
            while (item := waiting.popleft().result()) is not end:
                waiting.append(pool.submit(next, items, end))
                yield item
        finally:
            for future in waiting:
                future.cancel()
