"""A slow drift inside a clip taken out by keyframes: a few ASC CDLs at their times, straight lines between."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.cdl import apply_cdl
from lookwright.colour.spaces.signal import Signal
from lookwright.files import replacing
from lookwright.pictures.clips.colour import Levels, to_full_codes
from lookwright.pictures.clips.decode import av_library
from lookwright.pictures.clips.read import Clip, all_frames
from lookwright.pictures.clips.write import frame_of
from lookwright.solve.series.as_cdl import express
from lookwright.solve.series.difference import Difference

from .stand_ins import Inside

LEAST_STOPS, LEAST_MIRED = 0.01, 1.0
"""What the slow curve of a clip must reach over, to be corrected: what is less nobody sees (our choice)."""


@dataclass(frozen=True)
class Key:
    """A keyframe: plain data, so that it can travel to another machine."""

    seconds: float
    """Of the clip, from its first frame."""
    stops: float
    mired: float
    """By how much the clip is brighter and warmer there than at its middle; after a step of light, than at the step."""
    values: tuple[float, ...]
    """Slope, offset, power, three each, and saturation: an ASC CDL in the look's source signal, before the shot's."""

    def in_words(self) -> str:
        """One clause, e.g. ``1.25 s: +0.12 stop, -3 mired: ASC CDL (1 1 1)(-0.0068 ...)(1 1 1) 1``."""
        parts = ("(" + " ".join(f"{v:.6g}" for v in self.values[n : n + 3]) + ")" for n in (0, 3, 6))
        cdl = "".join(parts) + f" {self.values[9]:.6g}"
        return f"{self.seconds:.2f} s: {self.stops:+.2f} stop, {self.mired:+.0f} mired: ASC CDL {cdl}"


def keys_of(inside: Inside, signal: Signal, samples: Array) -> tuple[Key, ...]:
    """The keyframes of a clip; none where it does not drift.

    Parameters
    ----------
    samples
        (n, 3) of the clip's source signal, that the CDLs are fitted on.

    A sudden step stays, since it is another light: within each part of the clip the light is held as it is at the
    frame that stands for the shot, or at the end of the part that is nearest to it.
    """
    drift = inside.drift
    if not (drift.span_stops > LEAST_STOPS or drift.span_mired > LEAST_MIRED):
        return ()
    keys = []
    for frame, difference in drift.keyframes():
        first, end = next((a, b) for a, b in drift.parts if a <= frame < b)
        held = min(max(inside.shown, first), end - 1)
        stops = difference.stops - float(drift.slow_stops[held])
        mired = difference.mired - float(drift.slow_mired[held])
        if not np.isfinite([stops, mired]).all():
            continue
        cdl = express(Difference(stops, mired), signal, samples).cdl
        values = (*cdl.slope, *cdl.offset, *cdl.power, cdl.saturation)
        keys.append(Key(inside.times[frame], stops, mired, values))
    return tuple(keys) if any(k.stops or k.mired for k in keys) else ()


_NEUTRAL = (*(1.0,) * 3, *(0.0,) * 3, *(1.0,) * 3, 1.0)
_AT_ONCE = 1e-5
"""Seconds between the last keyframe of a part and the first of the next: no frame lies between them."""


def joined(parts: Sequence[tuple[float, Sequence[Key]]]) -> tuple[Key, ...]:
    """The keyframes of a whole clip from those of its parts, each with the seconds at which it begins.

    From one part to the next they change at once, and a part without any is left as it is.
    """
    if not any(keys for _, keys in parts):
        return ()
    found: list[Key] = []
    for number, (first, keys) in enumerate(parts):
        own = [*keys] or [Key(first, 0.0, 0.0, _NEUTRAL)]
        if number:
            found += [replace(found[-1], seconds=first - _AT_ONCE), replace(own[0], seconds=first)]
        found += own
    return tuple(found)


def values_at(keys: Sequence[Key], seconds: float) -> Array:
    """(10,) values at a time, on the straight line between two keyframes; those of the ends before and after."""
    after = bisect_right([k.seconds for k in keys], seconds + 1e-6)
    if after == 0 or after == len(keys):
        return np.array(keys[min(after, len(keys) - 1)].values)
    one, other = keys[after - 1], keys[after]
    share = min(1.0, max(0.0, (seconds - one.seconds) / (other.seconds - one.seconds)))
    return (1.0 - share) * np.array(one.values) + share * np.array(other.values)


def steadied(clip: Clip, first: float, last: float, levels: Levels, keys: Sequence[Key], target: Path) -> float:
    """Write the part of a clip with its drift taken out, for a LUT to be put on: no further loss but 10-bit codes.

    H.264 at a quantiser of 0, Y'CbCr of full size and full range, which is read the same whatever ``levels`` say. Code
    values are cut to 0..1, where a LUT begins and ends. Returns the seconds of its first frame, which has the time 0 in
    what is written. Raises :class:`PictureError` for
    damage; ``target`` (.mov) appears only when complete.
    """
    av = av_library()
    begins = 0.0
    with replacing(target) as temporary, av.open(str(temporary), "w", format="mov") as out:
        stream: Any = None
        start = 0
        for frame in all_frames(clip, first, last, levels):
            values = values_at(keys, frame.seconds)
            pixels = np.asarray(frame.pixels, np.float64)
            pixels = apply_cdl(pixels, values[:3], values[3:6], values[6:9], float(values[9]))
            if stream is None:
                stream = _stream(out, clip, pixels.shape, frame.time_base)
                start, begins = frame.pts, frame.seconds
            codes = to_full_codes(pixels, 10, MATRIX)
            picture = frame_of(codes, PIXELS)
            picture.pts, picture.time_base = frame.pts - start, frame.time_base
            picture.colorspace, picture.color_range = _MATRIX_CODE, _FULL
            for packet in stream.encode(picture):
                out.mux(packet)
        for packet in stream.encode() if stream is not None else ():
            out.mux(packet)
    return begins


MATRIX, PIXELS = "BT.709", "yuv444p10le"
_MATRIX_CODE, _FULL = 1, 2
"""As H.273 and libavutil number them."""


def _stream(out: Any, clip: Clip, shape: tuple[int, ...], time_base: Fraction) -> Any:
    stream = out.add_stream("libx264", rate=clip.rate, options={"qp": "0", "preset": "ultrafast"})
    stream.height, stream.width, stream.pix_fmt = shape[0], shape[1], PIXELS
    context = stream.codec_context
    context.colorspace, context.color_range, context.time_base = _MATRIX_CODE, _FULL, time_base
    return stream
