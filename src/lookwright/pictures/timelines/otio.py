"""Timelines in OpenTimelineIO's own format."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lookwright.errors import TimelineError

from .event import Event, Timeline
from .library import parse_otio, timeline_library


def picture_clips(timeline: Any) -> Iterator[Any]:
    """The clips of the picture tracks that have media, in order, those of nested sequences too."""
    otio = timeline_library()
    for track in timeline.video_tracks():
        if not track.enabled:
            continue
        for clip in track.find_clips():
            reference = clip.media_reference
            if clip.enabled and not isinstance(reference, otio.schema.GeneratorReference):
                yield clip


def parse(text: str, where: str) -> Timeline:
    """The picture events; raises :class:`TimelineError` for a text that is no timeline or has none."""
    timeline = parse_otio(text, where)
    events = tuple(_event(place, clip) for place, clip in enumerate(picture_clips(timeline)))
    if not events:
        raise TimelineError(where, "holds no picture clip", "a timeline with pictures")
    every = len(list(timeline.find_clips()))
    left = every - len(events)
    notes = (f"{left} clip{'s' if left > 1 else ''} of sound, generated or switched off passed over",) if left else ()
    return Timeline(events, notes)


def _event(place: int, clip: Any) -> Event:
    reference = clip.media_reference
    url = getattr(reference, "target_url", None) or ""
    reel = clip.metadata.get("cmx_3600", {}).get("reel", "") if "cmx_3600" in clip.metadata else ""
    names = tuple(dict.fromkeys(n for n in (url, clip.name, getattr(reference, "name", ""), str(reel)) if n))
    available = getattr(reference, "available_range", None)
    start = None if available is None else float(available.start_time.to_seconds())
    used = clip.source_range or available
    first = last = None
    if used is not None:
        first = float(used.start_time.to_seconds())
        last = float(used.end_time_exclusive().to_seconds())
    return Event(place, str(place + 1), clip.name or (names[0] if names else str(place + 1)), names, first, last, start)
