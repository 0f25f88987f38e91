"""The sound of a clip put to a picture that was made from it."""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.errors import PictureError
from lookwright.files import replacing

from .decode import av_library, open_clip

COPIED = ("aac", "mp3", "ac3", "eac3", "alac")
"""Codecs that an .mp4 may hold and players know: copied as they are. Others (PCM of cameras) become AAC."""

RATE = 192_000
"""Bits a second of AAC, for two channels: no difference is heard by most (common practice, no source)."""


def with_sound(picture: Path, clip: Path, target: Path, first: float = 0.0, last: float = float("inf")) -> int:
    """Write the picture track of an .mp4 with every sound track of ``clip``, from ``first`` to ``last`` seconds of it.

    The picture is copied, not encoded anew. Tracks of a whole clip in a codec of :data:`COPIED` are copied too;
    what is cut, or in another, becomes AAC. ``target`` appears only when complete.

    Returns how many tracks of sound there are.

    Raises
    ------
    PictureError
        For a sound that is damaged or cannot be encoded.
    """
    av = av_library()
    with open_clip(clip) as (source, shown):
        tracks = [s for s in source.streams.audio if s.codec_context is not None]
        start = float((shown.start_time or 0) * shown.time_base)
        with (
            replacing(target) as temporary,
            av.open(str(picture)) as graded,
            av.open(str(temporary), "w", format="mp4", options={"movflags": "+faststart"}) as out,
        ):
            own = graded.streams.video[0]
            video = out.add_stream_from_template(own)
            whole = first <= 0.0 and last == float("inf")
            sounds = {s: _track(out, s, start + first, start + last, whole) for s in tracks}
            for packet in heapq.merge(_shown(graded, own, video), _heard(clip, source, sounds), key=_when):
                out.mux(packet)
    return len(tracks)


def _when(packet: Any) -> float:
    return float(packet.dts * packet.time_base)


def _shown(container: Any, stream: Any, target: Any) -> Iterator[Any]:
    """The packets of the picture, as they are."""
    for packet in container.demux(stream):
        if packet.dts is not None:
            packet.stream = target
            yield packet


def _heard(clip: Path, container: Any, sounds: Mapping[Any, _Copied | _Encoded]) -> Iterator[Any]:
    """The packets of all sound, as they come."""
    if not sounds:
        return
    av = av_library()
    try:
        for packet in container.demux(list(sounds)):
            yield from sounds[packet.stream].packets(packet)
        for sound in sounds.values():
            yield from sound.rest()
    except av.FFmpegError as exc:
        if isinstance(exc, OSError):
            raise
        words = " ".join(str(getattr(exc, "strerror", None) or exc).split())[:120]
        raise PictureError(str(clip), f"its sound cannot be read ({words})", hint="copy the clip again") from None


def _track(out: Any, stream: Any, first: float, last: float, whole: bool) -> _Copied | _Encoded:
    if whole and stream.codec_context.name in COPIED:
        return _Copied(out.add_stream_from_template(stream), stream, first)
    return _Encoded(out, stream, first, last)


class _Copied:
    """A track taken as it is, moved so that the picture begins at 0."""

    def __init__(self, track: Any, stream: Any, first: float) -> None:
        self._track, self._early = track, round(first / stream.time_base)

    def packets(self, packet: Any) -> list[Any]:
        if packet.dts is None:
            return []
        packet.pts = None if packet.pts is None else packet.pts - self._early
        packet.dts = packet.dts - self._early
        packet.stream = self._track
        return [packet]

    def rest(self) -> list[Any]:
        return []


class _Encoded:
    """A track decoded, cut and encoded as AAC."""

    def __init__(self, out: Any, stream: Any, first: float, last: float) -> None:
        context = stream.codec_context
        self._rate = min(int(context.sample_rate or 48_000), 96_000)
        self._layout = context.layout.name if context.layout.nb_channels <= 8 else "stereo"
        self._track = out.add_stream("aac", rate=self._rate, layout=self._layout)
        self._track.bit_rate = RATE * max(1, context.layout.nb_channels // 2)
        self._resampler = av_library().AudioResampler("fltp", self._layout, self._rate)
        self._first, self._last = first, last
        ends = (last - first) * self._rate
        self._until = round(ends) if isfinite(ends) else 1 << 62
        self._given: int | None = None

    def packets(self, packet: Any) -> list[Any]:
        made = []
        for frame in packet.decode():
            time = float(frame.time or 0.0)
            if time + frame.samples / frame.sample_rate > self._first and time < self._last:
                made += self._encode(frame, time)
        return made

    def _encode(self, frame: Any, time: float) -> list[Any]:
        made: list[Any] = []
        frame.pts = None
        for whole in self._resampler.resample(frame):
            samples = whole.to_ndarray()
            if self._given is None:
                self._given = round((time - self._first) * self._rate)
            early, room = max(0, -self._given), self._until - self._given
            self._given += early
            samples = samples[:, early : max(0, room)] if room < samples.shape[1] or early else samples
            if samples.shape[1]:
                cut = av_library().AudioFrame.from_ndarray(np.ascontiguousarray(samples), "fltp", self._layout)
                cut.sample_rate, cut.pts, cut.time_base = self._rate, self._given, Fraction(1, self._rate)
                self._given += cut.samples
                made += self._track.encode(cut)
        return made

    def rest(self) -> list[Any]:
        return list(self._track.encode(None))
