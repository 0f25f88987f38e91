"""Which still all others are brought to: a file, a shot by its name, or a part of a clip."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf
from pathlib import Path

from lookwright.errors import LookwrightError, nearest
from lookwright.pictures.clips.find import is_clip
from lookwright.solve.series.shots import Span

from .series_shots import PART_ENDING, Source
from .stand_ins import StandIns

SAME_PART = 0.5
"""Share of the time of both that a part of a clip has in common with the one that was kept, to be the same."""

Reads = Callable[[Path, "Span | None"], tuple[list[Source], StandIns]]
"""Reads a clip that is none of the shots, or a part of it."""


@dataclass(frozen=True)
class Anchored:
    """The anchor of a run."""

    still: Path
    """What is matched against."""
    file: Path
    """What the user named or what the shot of that name is made of; marks are looked for beside it."""
    span: Span | None = None
    """The part of the clip; None for a still or a whole clip."""
    notes: tuple[str, ...] = ()


def demand_anchor(anchor: Path, shots: Sequence[Source]) -> None:
    """Raise :class:`LookwrightError`, before clips are read, for what is no file and can be no shot's name."""
    names = [s.shot for s in shots]
    called = str(anchor)
    if anchor.exists() or called in names or _whole(called):
        return
    close = nearest(called, names)
    hint = f"did you mean {' or '.join(close)}?" if close else "name a file, or a shot as it is called in the report"
    raise LookwrightError(called, "no such file, nor a shot of that name", hint=hint)


def anchored(anchor: Path, span: Span | None, shots: Sequence[Source], ins: StandIns, read: Reads) -> Anchored:
    """The still of the anchor.

    Parameters
    ----------
    anchor
        A file, or the name of a shot; of a clip that was cut, the name of a part or of the whole.
    span
        Of a clip, the part that is meant.
    shots
        Those of the run that could be read.
    read
        For a clip that is none of them.

    Raises :class:`LookwrightError` for what is none of these, or cannot be read.
    """
    named = _named(anchor, shots)
    if span is not None and anchor.exists():
        named = [s for s in named if _common(s.span or (0.0, inf), span, s) > SAME_PART]
    if named:
        return _of(anchor, named, ins, named[0].shot)
    if anchor.exists() and not is_clip(anchor):
        return Anchored(anchor, anchor)
    if fault := next((f for name, f in ins.faults.items() if name == str(anchor)), None):
        raise fault
    if not anchor.exists():
        return _part_of_another(anchor, shots, read)
    own, theirs = read(anchor, span)
    return _of(anchor, own, theirs)


def _part_of_another(anchor: Path, shots: Sequence[Source], read: Reads) -> Anchored:
    """A part, by its name, of a clip that is none of the shots: ``rushes/C001-from-00-00-03-12``."""
    names = [s.shot for s in shots if s.whole and str(anchor).startswith(s.whole)] or [s.shot for s in shots]
    beside = sorted(anchor.parent.iterdir()) if anchor.parent.is_dir() else ()
    if clips := [p for p in beside if is_clip(p) and p.stem == _whole(anchor.name)]:
        own, theirs = read(clips[0], None)
        if found := [s for s in own if s.shot == anchor.name]:
            return _of(clips[0], found, theirs)
        names = [str(anchor.with_name(s.shot)) for s in own]
    hint = "there is " + ", ".join(names[:6])
    raise LookwrightError(str(anchor), "no such file, nor a shot of that name", hint=hint)


def _whole(name: str) -> str:
    """What the name of a part is a part of; empty for another name."""
    found = re.fullmatch("(.+)" + PART_ENDING.replace("00", r"\d\d") + r"(-\d+)?", name)
    return found[1] if found else ""


def _named(anchor: Path, shots: Sequence[Source]) -> list[Source]:
    if not anchor.exists():
        return [s for s in shots if s.shot == str(anchor)] or [s for s in shots if s.whole == str(anchor)]
    return [s for s in shots if s.path.resolve() == anchor.resolve()] if is_clip(anchor) else []


def _of(anchor: Path, named: Sequence[Source], ins: StandIns, called: str = "") -> Anchored:
    """The only one or the first of them; of the parts of one clip the longest.

    ``called`` is the name of one of them, where they are shots; empty for a clip that is none.
    """
    parts = [s for s in named if s.whole and s.whole == named[0].whole]
    one = max(parts, key=lambda s: round(s.seconds, 3)) if parts else named[0]
    notes: tuple[str, ...] = ()
    if len(parts) > 1:
        told = one.shot if called else str(anchor.with_name(one.shot))
        notes = (
            f"the anchor is {one.shot}, the longest part of {anchor.name}, whose light changes: --anchor {told} or "
            f"the name of another part says which is meant",
        )
    return Anchored(ins.stills[one.shot], one.path if not anchor.exists() else anchor, one.span, notes)


def _common(one: Span, other: Span, shot: Source) -> float:
    """Time in both over time in either."""
    end = shot.clip.seconds if shot.clip is not None and shot.clip.seconds else 1e6
    (a, b), (c, d) = ((first, min(last, end)) for first, last in (one, other))
    return max(0.0, min(b, d) - max(a, c)) / max(max(b, d) - min(a, c), 1e-6)
