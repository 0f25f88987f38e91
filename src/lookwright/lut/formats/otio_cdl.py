"""ASC CDL values in the metadata of an OpenTimelineIO timeline, where its CMX 3600 adapter keeps them: ``cdl``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lookwright.pictures.timelines.library import parse_otio, timeline_library
from lookwright.pictures.timelines.otio import picture_clips

from .cdl import Correction


@dataclass(frozen=True)
class EventPart:
    """A part of an event whose light changes on the way."""

    name: str
    seconds: float
    """From the event's first frame."""
    correction: Correction | None
    """None where it was not matched."""


def with_metadata(
    text: str,
    where: str,
    corrections: Mapping[int, Correction],
    parts: Mapping[int, Sequence[EventPart]] | None = None,
) -> str:
    """A timeline in OpenTimelineIO's own format with the values of its picture clips.

    Everything else in it is kept, also what this release of the library does not know.

    Parameters
    ----------
    corrections
        By the place of the clip among the picture clips, from 0.
    parts
        By the same place, the parts of clips whose light changes; each but the first gets a marker.

    Raises :class:`TimelineError` for a text that is no timeline.
    """
    timeline = parse_otio(text, where)
    for place, clip in enumerate(picture_clips(timeline)):
        if (correction := corrections.get(place)) is not None:
            clip.metadata["cdl"] = _values(correction)
        mark(clip, (parts or {}).get(place, ()))
    return str(timeline_library().adapters.write_to_string(timeline, "otio_json")) + "\n"


def mark(clip: Any, parts: Sequence[EventPart]) -> None:
    """A marker at the first frame of each part of OpenTimelineIO's clip but the first, its own values in it.

    Markers that an earlier run set at changes of light go.
    """
    time = timeline_library().opentime
    kept = [m for m in clip.markers if _OURS not in m.metadata]
    if len(kept) < len(clip.markers):
        clip.markers[:] = kept
    for part in parts[1:]:
        start = (clip.source_range or clip.available_range()).start_time
        at = time.RationalTime(start.value + round(part.seconds * start.rate), start.rate)
        metadata = {_OURS: part.name} | ({"cdl": _values(part.correction)} if part.correction is not None else {})
        one = time.TimeRange(at, time.RationalTime(1, start.rate))
        clip.markers.append(
            timeline_library().schema.Marker(name=f"light changes: {part.name}", marked_range=one, metadata=metadata)
        )


_OURS = "lookwright_part"
"""Key of a marker's metadata that holds the name of the part which begins there."""


def _values(correction: Correction) -> dict[str, Any]:
    return {
        "asc_sop": {
            "slope": list(correction.slope),
            "offset": list(correction.offset),
            "power": list(correction.power),
        },
        "asc_sat": correction.saturation,
    }
