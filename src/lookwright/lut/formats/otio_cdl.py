"""ASC CDL values in the metadata of an OpenTimelineIO timeline, where its CMX 3600 adapter keeps them: ``cdl``."""

from __future__ import annotations

from collections.abc import Mapping

from lookwright.pictures.timelines.library import parse_otio, timeline_library
from lookwright.pictures.timelines.otio import picture_clips

from .cdl import Correction


def with_metadata(text: str, where: str, corrections: Mapping[int, Correction]) -> str:
    """A timeline in OpenTimelineIO's own format with the values of its picture clips.

    Everything else in it is kept, also what this release of the library does not know.

    Parameters
    ----------
    corrections
        By the place of the clip among the picture clips, from 0.

    Raises :class:`TimelineError` for a text that is no timeline.
    """
    timeline = parse_otio(text, where)
    for place, clip in enumerate(picture_clips(timeline)):
        if (correction := corrections.get(place)) is not None:
            clip.metadata["cdl"] = {
                "asc_sop": {
                    "slope": list(correction.slope),
                    "offset": list(correction.offset),
                    "power": list(correction.power),
                },
                "asc_sat": correction.saturation,
            }
    return str(timeline_library().adapters.write_to_string(timeline, "otio_json")) + "\n"
