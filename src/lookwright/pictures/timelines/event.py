"""One shot of an edit, whatever kind of timeline it stands in."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Event:
    """A picture event: which media, and which part of it.

    Times are seconds on the media's own clock, which begins at its timecode.
    """

    place: int
    """Among the picture events of the timeline, from 0."""
    label: str
    """What the timeline calls the event, such as ``007``."""
    name: str
    """The clip's name; the reel's where it has none."""
    media: tuple[str, ...]
    """What the file may be called, surest first: paths, names, reels."""
    first: float | None
    last: float | None
    """Where the part ends; None for both: the whole."""
    start: float | None = None
    """What the media's clock shows at its first frame; None: as the file itself says."""


@dataclass(frozen=True)
class Timeline:
    """The picture events of a timeline, in the order of the edit."""

    events: tuple[Event, ...]
    notes: tuple[str, ...] = ()
    """What was passed over, in words."""
