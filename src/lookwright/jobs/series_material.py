"""From what a user names to what is matched."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from math import inf
from pathlib import Path
from typing import Any

from lookwright.colour.spaces.ranges import Range
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, WrongUse
from lookwright.files import make_folder
from lookwright.names import portable
from lookwright.outputs import Output
from lookwright.pictures.batch import LEDGER
from lookwright.pictures.clips.colour import Levels
from lookwright.pictures.clips.find import is_clip
from lookwright.pictures.clips.read import read_clip
from lookwright.pictures.stills import read
from lookwright.solve.series.as_cdl import few
from lookwright.solve.series.shots import Shot, Span
from lookwright.solve.series.through import Link

from .given import MARKS
from .job import declare
from .progress import SILENT, Progress, part
from .scratch import scratch
from .series_anchor import Anchored, anchored, demand_anchor
from .series_clips import CLIPS, ClipLayout, preview_files
from .series_files import CUBES, Handed, shot_files, timeline_files
from .series_shots import Source, Sources, demand_shots, odd_ones, sources_of
from .stand_ins import Inside, StandIns, cut_notes, links, stand_ins
from .steady import Key, keys_of

PLAIN = "plain-rendering.cube"
MOST_OF_NAME = 200
"""Bytes of a name from which those of stills are made."""


@dataclass(frozen=True)
class Cut:
    """A timeline that names the shots: ``.edl`` or ``.otio``; where its media lie; an EDL's frames a second."""

    timeline: Path | None = None
    media: Sequence[Path] = ()
    rate: float | None = None


@dataclass(frozen=True)
class ClipReading:
    """How clips are read, in place of their tags; see :func:`lookwright.jobs.clip.clip`."""

    matrix: str | None = None
    range_: Range | None = None
    levels: Levels = "expand"
    whole: bool = False
    """Clips are not cut where their light changes."""


@dataclass(frozen=True)
class Forms:
    """What a series is handed on as, besides ``series.ccc``, one ``.cdl`` a shot and the user's own timeline.

    ``cubes``: one ``.cube`` a shot. ``config``: an OpenColorIO configuration. ``clips``: every clip graded. ``size``:
    points a side of their LUTs. ``scheduler``: a Dask scheduler that clips are graded over. ``steady``:
    a slow drift of light inside a clip is taken out by keyframes.
    """

    cubes: bool = False
    config: bool = False
    clips: ClipLayout | None = None
    size: int = 33
    scheduler: str | None = None
    steady: bool = False

    @property
    def handed(self) -> Handed:
        """As files are told; clips are graded through the LUTs that are handed on."""
        return Handed(self.cubes or self.clips is not None, self.config, self.size)


NO_TIMELINE, AS_TAGGED, CDLS_ALONE = Cut(), ClipReading(), Forms()


@dataclass
class Material:
    """The shots of a run as stills to be matched."""

    sources: list[Source]
    total: int
    """Stills, clips and events, those at fault among them."""
    anchor: Anchored
    stills: dict[str, Path]
    """By name of a shot."""
    inside: dict[str, Inside]
    faults: list[LookwrightError]
    doubts: dict[str, list[str]]
    notes: list[str]
    links: list[Link] = field(default_factory=list)
    """Between the parts of each clip that was cut."""
    keys: dict[str, tuple[Key, ...]] = field(default_factory=dict)
    """By name of a shot, what takes a drift out of it, where that is wanted."""

    @property
    def count(self) -> int:
        """Shots, those at fault among them; of a clip that was cut each part."""
        wholes = {s.whole for s in self.sources if s.whole}
        return self.total + sum(bool(s.whole) for s in self.sources) - len(wholes)

    def steady(self, signal: Signal) -> None:
        """Work out the keyframes of every clip."""
        for shot, inside in self.inside.items():
            if keys := keys_of(inside, signal, few(read(self.stills[shot]).pixels)):
                self.keys[shot] = keys

    def within(self) -> dict[str, list[str]]:
        """By name of a shot, what happens inside the clip and what is done about it, a clause each."""
        told = {name: inside.sentences() for name, inside in self.inside.items()}
        for name, keys in self.keys.items():
            stops = [k.stops for k in keys]
            told[name].append(
                f"steadied by {len(keys)} keyframes, which undo {min(stops):+.2f} to {max(stops):+.2f} stop"
            )
        return {name: said for name, said in told.items() if said}

    def key_words(self) -> dict[str, list[str]]:
        """By name of a shot that is steadied, its keyframes, a clause each."""
        return {name: [k.in_words() for k in keys] for name, keys in self.keys.items()}

    @property
    def plain_stills(self) -> list[Path]:
        """The stills that do not stand for clips, the anchor's too: what is read of clips was looked at already."""
        made = {self.stills[s.shot] for s in self.sources if s.clip is not None}
        given = [self.anchor.still, *self.paths] if self.anchor.still == self.anchor.file else self.paths
        return [p for p in dict.fromkeys(given) if p not in made]

    @property
    def paths(self) -> list[Path]:
        """The stills in the order of the shots, each once."""
        return list(dict.fromkeys(self.stills[s.shot] for s in self.sources))

    def named(self, shots: Sequence[Shot]) -> list[Shot]:
        """Results of the stills as results of the shots, in their order, under their names."""
        by_path = {s.path: s for s in shots}
        found = []
        for source in self.sources:
            shot = by_path.get(str(self.stills[source.shot]))
            if shot is not None:
                found.append(replace(shot, shot=source.shot, path=str(source.path), span=source.span))
        return found


@contextlib.contextmanager
def material(
    shots: Sequence[Path],
    anchor: Path,
    span: Span | None,
    out: Path,
    signal: Signal,
    cut: Cut,
    reading: ClipReading,
    forms: Forms,
    progress: Progress,
) -> Iterator[Material]:
    """Find the shots and read the clips among them; stills made on the way are there for the time of the block.

    Raises :class:`LookwrightError` for no shot that can be read, an anchor that is none, or outputs that may not be
    written.
    """
    _check(cut, forms)
    found = sources_of(shots, cut.timeline, cut.media, cut.rate, out, reading.matrix, reading.range_)
    demand_shots(found)
    demand_anchor(anchor, found.shots)
    _declare(found.shots, cut, out, forms)
    clips = any(s.clip is not None for s in found.shots) or is_clip(anchor)
    with scratch(out) if clips else contextlib.nullcontext(out) as folder:
        advance = part(progress if clips else SILENT, "reading clips", len(found.shots))
        ins = stand_ins(found.shots, folder, signal, reading.levels, advance, not reading.whole)
        sources = ins.sources(found.shots)
        if any(s.whole for s in sources):  # names that were not known before
            _declare(sources, cut, out, forms)
        yield _material(
            found, sources, ins, anchored(anchor, span, sources, ins, partial(_own, folder, signal, reading))
        )


def _check(cut: Cut, forms: Forms) -> None:
    if cut.timeline is None and (cut.media or cut.rate):
        raise WrongUse("--media and --rate are for a --timeline")
    if forms.scheduler is not None and forms.clips is None:
        raise WrongUse("--scheduler is for grading clips: give --clips too")


def _declare(shots: Sequence[Source], cut: Cut, out: Path, forms: Forms) -> None:
    written = [*shot_files(out, [s.shot for s in shots], forms.handed), *timeline_files(out, cut.timeline)]
    if forms.clips is not None:
        written += [*preview_files(out, shots, forms.clips), Output(out / CLIPS / LEDGER, "json")]
        if forms.clips == "pair":
            written.append(Output(out / CUBES / PLAIN, "cube"))
    paths = [s.path for s in shots]
    declare([paths, [p.parent / MARKS for p in paths], cut.timeline], written)


def _material(found: Sources, sources: list[Source], ins: StandIns, anchor: Anchored) -> Material:
    faults = [*found.faults, *ins.faults.values()]
    if not sources:
        raise faults[0]
    doubts = {name: list(said) for name, said in ins.doubts.items()}
    for name, said in odd_ones(sources).items():
        doubts.setdefault(name, []).extend(said)
    for source in sources:
        for note in source.clip.notes if source.clip is not None else ():
            doubts.setdefault(source.shot, []).append(note)
    notes = [*found.notes, *cut_notes(ins), *anchor.notes]
    return Material(sources, found.total, anchor, ins.stills, ins.inside, faults, doubts, notes, links(ins))


def _own(
    folder: Path, signal: Signal, reading: ClipReading, anchor: Path, span: Span | None
) -> tuple[list[Source], StandIns]:
    """An anchor that is none of the shots, read by itself."""
    first, last = span or (0.0, inf)
    own = Source(
        portable(anchor.stem, MOST_OF_NAME), anchor, read_clip(anchor, reading.matrix, reading.range_), first, last
    )
    apart = make_folder(folder / "anchor")  # a shot may have its name
    ins = stand_ins([own], apart, signal, reading.levels, cut=not reading.whole)
    for fault in ins.faults.values():
        raise fault
    return ins.sources([own]), ins


def inside_of(held: Material, shot: str) -> dict[str, Any]:
    """What happens inside a clip, plain, ready for JSON; nothing for a still."""
    inside = held.inside.get(shot)
    if inside is None:
        return {}
    keys = {"keyframes": [asdict(k) for k in held.keys[shot]]} if shot in held.keys else {}
    return {"inside": {**inside.to_dict(), **keys}}
