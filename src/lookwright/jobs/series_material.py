"""From what a user names to what is matched."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from lookwright.colour.spaces.ranges import Range
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, WrongUse
from lookwright.outputs import Output
from lookwright.pictures.batch import LEDGER
from lookwright.pictures.clips.colour import Levels
from lookwright.pictures.clips.find import is_clip
from lookwright.pictures.clips.read import read_clip
from lookwright.pictures.stills import read
from lookwright.solve.series.as_cdl import few
from lookwright.solve.series.shots import Shot

from .given import MARKS
from .job import declare
from .progress import SILENT, Progress, part
from .scratch import scratch
from .series_clips import CLIPS, ClipLayout, preview_files
from .series_files import CUBES, Handed, shot_files, timeline_files
from .series_shots import Source, Sources, demand_shots, odd_ones, sources_of
from .stand_ins import Inside, StandIns, stand_ins
from .steady import Key, keys_of

PLAIN = "plain-rendering.cube"


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
    """With those at fault."""
    anchor: Path
    beside: Path
    """The folder that the anchor lies in, where marks are looked for."""
    stills: dict[str, Path]
    """By name of a shot."""
    inside: dict[str, Inside]
    faults: list[LookwrightError]
    doubts: dict[str, list[str]]
    notes: list[str]
    keys: dict[str, tuple[Key, ...]] = field(default_factory=dict)
    """By name of a shot, what takes a drift out of it, where that is wanted."""

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
        given = [self.anchor, *self.paths] if self.anchor.parent == self.beside else self.paths
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
                found.append(replace(shot, shot=source.shot, path=str(source.path)))
        return found


@contextlib.contextmanager
def material(
    shots: Sequence[Path],
    anchor: Path,
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
    _declare(found, cut, out, forms)
    clips = any(s.clip is not None for s in found.shots) or is_clip(anchor)
    with scratch(out) if clips else contextlib.nullcontext(out) as folder:
        advance = part(progress if clips else SILENT, "reading clips", len(found.shots))
        ins = stand_ins(found.shots, folder, signal, reading.levels, advance)
        yield _material(found, ins, *_anchor(anchor, found.shots, ins, folder, signal, reading))


def _check(cut: Cut, forms: Forms) -> None:
    if cut.timeline is None and (cut.media or cut.rate):
        raise WrongUse("--media and --rate are for a --timeline")
    if forms.scheduler is not None and forms.clips is None:
        raise WrongUse("--scheduler is for grading clips: give --clips too")


def _declare(found: Sources, cut: Cut, out: Path, forms: Forms) -> None:
    names = [s.shot for s in found.shots]
    written = [*shot_files(out, names, forms.handed), *timeline_files(out, cut.timeline)]
    if forms.clips is not None:
        written += [*preview_files(out, found.shots, forms.clips), Output(out / CLIPS / LEDGER, "json")]
        if forms.clips == "pair":
            written.append(Output(out / CUBES / PLAIN, "cube"))
    paths = [s.path for s in found.shots]
    declare([paths, [p.parent / MARKS for p in paths], cut.timeline], written)


def _material(found: Sources, ins: StandIns, anchor: Path, beside: Path) -> Material:
    sources = [s for s in found.shots if s.shot in ins.stills]
    faults = [*found.faults, *ins.faults.values()]
    if not sources:
        raise faults[0]
    doubts = {name: list(said) for name, said in ins.doubts.items()}
    for name, said in odd_ones(sources).items():
        doubts.setdefault(name, []).extend(said)
    for source in sources:
        for note in source.clip.notes if source.clip is not None else ():
            doubts.setdefault(source.shot, []).append(note)
    return Material(sources, found.total, anchor, beside, ins.stills, ins.inside, faults, doubts, found.notes)


def _anchor(
    anchor: Path, shots: Sequence[Source], ins: StandIns, folder: Path, signal: Signal, reading: ClipReading
) -> tuple[Path, Path]:
    """The still of the anchor, which may be a file or the name of a shot; and the folder that the file lies in."""
    named = _same(anchor, shots) if anchor.exists() else [s for s in shots if s.shot == str(anchor)]
    if named:
        if named[0].shot in ins.faults:
            raise ins.faults[named[0].shot]
        return ins.stills[named[0].shot], named[0].path.parent
    if not is_clip(anchor):
        return anchor, anchor.parent
    own = Source("anchor", anchor, read_clip(anchor, reading.matrix, reading.range_))
    read = stand_ins([own], folder, signal, reading.levels)
    for fault in read.faults.values():
        raise fault
    return read.stills["anchor"], anchor.parent


def _same(path: Path, shots: Sequence[Source]) -> list[Source]:
    return [s for s in shots if s.path.resolve() == path.resolve()] if is_clip(path) else []


def inside_of(held: Material, shot: str) -> dict[str, Any]:
    """What happens inside a clip, plain, ready for JSON; nothing for a still."""
    inside = held.inside.get(shot)
    if inside is None:
        return {}
    keys = {"keyframes": [asdict(k) for k in held.keys[shot]]} if shot in held.keys else {}
    return {"inside": {"seconds": list(inside.times), **inside.drift.to_dict(), **keys}}
