"""What the shots of a series are: clips and stills, named one by one, in a folder, or by a timeline."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache, partial
from math import inf
from pathlib import Path

from lookwright.colour.spaces.ranges import Range
from lookwright.errors import LookwrightError, PictureError, TimelineError, WrongUse
from lookwright.names import Names
from lookwright.pictures.clips.clock import timecode_of
from lookwright.pictures.clips.find import find_shots, is_clip
from lookwright.pictures.clips.read import Clip, read_clip
from lookwright.pictures.timelines.edl import seconds
from lookwright.pictures.timelines.event import Event
from lookwright.pictures.timelines.media import Media
from lookwright.pictures.timelines.read import read_timeline

USUAL_RATE = 24.0
"""Frames a second of an edit decision list where neither the user nor a clip says so."""

PART_ENDING = "-from-00-00-00-00"
"""What the name of a part of a clip ends with: hours, minutes, seconds and frames from the clip's first frame, with
dashes, since names of files have no colons everywhere."""

_LONGEST_ENDING = f"{PART_ENDING}-pair.mp4"
"""What a shot's name must leave room for."""


@dataclass(frozen=True)
class Source:
    """One shot: a still, or a part of a clip."""

    shot: str
    """Its name in every file and table: that of the clip or still, numbered where two are alike."""
    path: Path
    clip: Clip | None = None
    """None for a still."""
    first: float = 0.0
    last: float = inf
    """Seconds of the clip, from its first frame."""
    event: int | None = None
    """Place among the picture events of the timeline."""
    whole: str = ""
    """Of a part of a clip that was cut where its light changes: the name of the whole."""

    @property
    def name(self) -> str:
        """That of the whole clip, where this is a part of it."""
        return self.whole or self.shot

    @property
    def span(self) -> tuple[float, float] | None:
        """``first`` and ``last``; None for a still or a clip from end to end."""
        return None if self.clip is None or (self.first, self.last) == (0.0, inf) else (self.first, self.last)

    @property
    def seconds(self) -> float:
        """How long it is; 0 for a still."""
        return 0.0 if self.clip is None else min(self.last, self.clip.seconds) - self.first


@dataclass
class Sources:
    """The shots of a run, and what is wrong with others."""

    shots: list[Source] = field(default_factory=list)
    faults: list[LookwrightError] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    total: int = 0
    """With those at fault."""


def sources_of(
    shots: Sequence[Path],
    timeline: Path | None = None,
    media: Sequence[Path] = (),
    rate: float | None = None,
    out: Path | None = None,
    matrix: str | None = None,
    range_: Range | None = None,
) -> Sources:
    """Find and name the shots; one that cannot be used is a fault, and the rest go on.

    Parameters
    ----------
    shots
        Clips, stills, folders or patterns; none where there is a ``timeline``.
    timeline, media
        An ``.edl`` or ``.otio`` file, and folders where its media lie; none: its own folder.
    rate
        Frames a second of an EDL; None: that of the first clip it names, else 24.
    out
        Where results go: no media are looked for there.
    matrix, range_
        In place of the clips' tags.

    Raises
    ------
    LookwrightError
        For a timeline that cannot be read, or no shot at all.
    """
    if (timeline is None) == (not shots):
        raise WrongUse("name the shots: clips and stills with --shots, or a timeline with --timeline (not both)")
    found = Sources()
    names = Names()
    opened = _Opened(matrix, range_)
    if timeline is None:
        paths = find_shots(shots)
        found.total = len(paths)
        for path in paths:
            _take(found, names, path, None, opened)
        return _named(found, names)
    places = Media(media, timeline.parent, out)
    used = rate or _rate_of(timeline, places) or USUAL_RATE
    told = read_timeline(timeline, used)
    found.total = len(told.events)
    found.notes += told.notes
    for event in told.events:
        try:
            path = places.of(event)
        except TimelineError as exc:
            found.faults.append(exc)
            continue
        _take(found, names, path, event, opened)
    return _named(found, names)


def _named(found: Sources, names: Names) -> Sources:
    """With a note for each name that files could not have."""
    for stem, made in names.changed.items():
        found.notes.append(f"{stem}: not every system can hold this name, so what is made of it is called {made}")
    return found


class _Opened:
    """What clips say of themselves, each asked once however many events use it: a long one's table takes a while."""

    def __init__(self, matrix: str | None, range_: Range | None) -> None:
        self.clip = cache(partial(read_clip, matrix=matrix, range_=range_))
        self.timecode = cache(timecode_of)


def _take(found: Sources, names: Names, path: Path, event: Event | None, opened: _Opened) -> None:
    try:
        clip = opened.clip(path) if is_clip(path) else None
        first, last = (0.0, inf) if clip is None or event is None else _part(event, clip, opened)
    except LookwrightError as exc:
        found.faults.append(exc)
        return
    place = None if event is None else event.place
    name = names.of(path.stem, _LONGEST_ENDING).removesuffix(_LONGEST_ENDING)
    found.shots.append(Source(name, path, clip, first, last, place))


def _rate_of(timeline: Path, places: Media) -> float | None:
    """Of the first clip that the timeline names and that is there."""
    if timeline.suffix.lower() != ".edl":
        return None
    for event in read_timeline(timeline, USUAL_RATE).events:
        try:
            path = places.of(event)
            if is_clip(path):
                return float(read_clip(path, "BT.709").rate)
        except LookwrightError:  # told when it is read in earnest
            continue
    return None


def _part(event: Event, clip: Clip, opened: _Opened) -> tuple[float, float]:
    """Seconds of the clip that an event uses.

    Raises :class:`TimelineError` where they lie outside the clip.
    """
    if event.first is None or event.last is None:
        return 0.0, inf
    start = event.start
    if start is None:
        code = opened.timecode(clip.path)
        start = seconds(code, float(clip.rate), False, str(clip.path)) if code else 0.0
    first, last = event.first - start, event.last - start
    frame = 1.0 / float(clip.rate)
    if first < -0.5 * frame or (clip.seconds and last > clip.seconds + 1.5 * frame) or last <= first:
        raise TimelineError(
            f"event {event.label} ({event.name})",
            f"uses {first:.2f} to {last:.2f} s of {clip.path.name}, which has {clip.seconds:.2f} s",
            "a part of the clip",
            "is it another take, or another --rate?",
        )
    # A quarter of a frame early: rounding must not lose the first frame, nor take one more at the end.
    early = max(0.0, first - 0.25 * frame)
    return early, (inf if clip.seconds and last > clip.seconds - 0.25 * frame else last - 0.25 * frame)


def odd_ones(shots: Sequence[Source]) -> dict[str, list[str]]:
    """By name, what sets a clip apart from most others: it may come from another camera.

    Told where more than half of at least three clips agree.
    """
    clips = [s for s in shots if s.clip is not None]
    told: dict[str, list[str]] = {}
    for words, of in _TRAITS:
        values = [of(s.clip) for s in clips if s.clip is not None]
        if len(values) < 3:
            continue
        usual = max(set(values), key=values.count)
        if 2 * values.count(usual) <= len(values):
            continue
        for shot, value in zip(clips, values, strict=True):
            if value != usual:
                sentence = f"its {words} {_said(value)}, that of most others {_said(usual)}: another camera?"
                told.setdefault(shot.shot, []).append(sentence)
    return told


def _said(value: object) -> str:
    return f"is {value}" if value else "is not said"


_TRAITS: tuple[tuple[str, Callable[[Clip], str | int]], ...] = (
    ("bit depth", lambda clip: clip.bits),
    ("matrix", lambda clip: clip.matrix or "R'G'B'"),
    ("range", lambda clip: clip.range),
    ("transfer tag", lambda clip: clip.transfer),
    ("primaries tag", lambda clip: clip.primaries),
)
"""What a clip says of itself that comes from the camera, not from how it was held or cut."""


def demand_shots(found: Sources) -> None:
    """Raise the first fault where no shot is left."""
    if not found.shots:
        raise found.faults[0] if found.faults else PictureError("shots", "none were found")
