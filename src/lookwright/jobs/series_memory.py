"""Keeping a series from episode to episode, and what another look would alter in those that are finished."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.colour.difference import ciede2000, light_to_lab
from lookwright.errors import LookwrightError, OutputError, WrongUse
from lookwright.files import check_target
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.read import parse_look
from lookwright.outputs import Output
from lookwright.pictures.clips.find import is_clip
from lookwright.pictures.stills import read
from lookwright.solve.series.memory import (
    KeptAnchor,
    KeptEpisode,
    KeptLook,
    KeptShot,
    KeptTolerance,
    Memory,
    kept_shot,
    read_memory,
    told_span,
    write_memory,
)
from lookwright.solve.series.over_time import EpisodeDrift, Trend, episodes, trend
from lookwright.solve.series.shots import Shot, Span

from .given import SignalName
from .job import job
from .looks import load_look
from .progress import SILENT, Progress, part
from .series_anchor import Anchored

EVERY = 4
"""Each fourth pixel both ways is looked at for what a look alters: a mean over a picture needs no more."""


@dataclass(frozen=True)
class Altered:
    """What the look of this run does otherwise to a shot of an earlier episode, as CIEDE2000 of the graded pictures."""

    episode: str
    shot: str
    mean: float | None
    """None where it could not be measured; ``why`` says it."""
    p95: float | None
    why: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)

    def sentence(self) -> str:
        """One line for a person."""
        if self.mean is None or self.p95 is None:
            return f"episode {self.episode}, {self.shot}: what the look alters was not measured; {self.why}"
        size = f"ΔE {self.mean:.2f} (mean), {self.p95:.2f} (95 %)"
        return f"episode {self.episode}, {self.shot}: the look alters it by {size}"


@dataclass(frozen=True)
class Kept:
    """What became of a series file."""

    file: Path
    drifts: tuple[EpisodeDrift, ...]
    trend: Trend | None
    altered: tuple[Altered, ...]
    """Shots of finished episodes that another look graded."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return {
            "file": str(self.file),
            "episodes": [d.to_dict() for d in self.drifts],
            "trend": asdict(self.trend) if self.trend else None,
            "altered": [a.to_dict() for a in self.altered],
        }

    def sentences(self) -> list[str]:
        """For a person."""
        said = [d.sentence() for d in self.drifts]
        if self.trend is not None:
            said.append(self.trend.sentence())
        return [*said, *(a.sentence() for a in self.altered)]


@dataclass(frozen=True)
class Given:
    """What a run takes from its series file, where it was not given."""

    anchor: Path
    marks: Path | None
    stops: float
    mired: float
    span: Span | None = None
    """The part of an anchor that is a clip."""

    def settled(self, anchor: Anchored | None) -> Given:
        """With the file and the part of it that the run found the anchor to be."""
        return self if anchor is None else replace(self, anchor=anchor.file, span=anchor.span)


def given(
    memory: Path | None, anchor: Path | None, marks: Path | None, stops: float | None, mired: float | None, out: Path
) -> Given:
    """Anchor, marks and tolerances: as given, else as kept, else the usual.

    Raises :class:`WrongUse` without an anchor, :class:`LookwrightError` for a series file that cannot be used or
    written, or that keeps another anchor than the file ``anchor``; in the folder ``out`` it may be, which is still to
    be made.
    """
    if memory is not None:
        _check(memory, out)
    kept = read_memory(memory) if memory is not None and memory.exists() else None
    span = None
    if kept is not None and memory is not None:
        if anchor is None:
            anchor, span = _beside(memory, kept.anchor.file), kept.anchor.span
            if marks is None and kept.anchor.marks is not None:
                marks = _beside(memory, kept.anchor.marks)
        elif anchor.exists():  # else the name of a shot: which file that is the run will find
            _demand_same(memory, kept.anchor.file, _told(memory, anchor))
            span = kept.anchor.span
    if anchor is None:
        raise WrongUse("name the still that the others are brought to with --anchor; a series file keeps it after that")
    tolerance = kept.tolerance if kept is not None else KeptTolerance(stops=0.1, mired=5.0)
    return Given(
        anchor,
        marks,
        tolerance.stops if stops is None else stops,
        tolerance.mired if mired is None else mired,
        span,
    )


def _check(memory: Path, out: Path) -> None:
    if memory.suffix.lower() != ".toml":
        raise OutputError(
            str(memory), "the name does not end in .toml", hint="it keeps the series as text: series.toml"
        )
    if not memory.resolve().is_relative_to(out.resolve()):
        check_target(memory)


@job(memory=lambda given: [Output(given["memory"], "text", instead_of=given["memory"])])
def keep(
    memory: Path,
    episode: str,
    look: Path,
    shots: tuple[Shot, ...],
    used: Given,
    *,
    source: SignalName | None = None,
    progress: Progress = SILENT,
) -> Kept:
    """Add an episode to a series file, or write it anew there; tell how the series drifts and what the look alters.

    Parameters
    ----------
    memory
        The file; made where there is none.
    episode
        Its name. One of that name is replaced.
    look
        What the episode is graded with. Episodes graded with another text of it are compared.
    shots
        Of this episode, matched.
    used
        Its anchor as the run found it (:meth:`Given.settled`), and tolerances.
    source
        In place of the look's own.

    Raises
    ------
    LookwrightError
        For a series file that cannot be used or written, or that keeps another anchor.
    """
    text = load_look(look, source=source)[1]
    own = [kept_shot(s).model_copy(update={"path": _told(memory, Path(s.path))}) for s in shots]
    marks = None if used.marks is None else _told(memory, used.marks)
    anchor = KeptAnchor(file=_told(memory, used.anchor), marks=marks, **told_span(used.span))
    tolerance = KeptTolerance(stops=used.stops, mired=used.mired)
    looks, done = list[KeptLook](), list[KeptEpisode]()
    if memory.exists():
        before = read_memory(memory)
        if before.anchor.span is None:  # the whole clip was kept: any part of it is of it
            _demand_same(memory, before.anchor.file, anchor.file)
        else:
            _demand_same(memory, _words(before.anchor), _words(anchor))
        anchor = before.anchor
        looks, done = list(before.look), list(before.episode)
    if all(k.text != text for k in looks):
        looks.append(KeptLook(file=_told(memory, look), text=text))
    number = next(n for n, k in enumerate(looks) if k.text == text)
    fresh = KeptEpisode(name=episode, look=number, shot=own)
    place = next((n for n, e in enumerate(done) if e.name == episode), None)
    if place is None:
        done.append(fresh)
    else:
        done[place] = fresh
    now = Memory(format=1, anchor=anchor, tolerance=tolerance, look=looks, episode=done)
    altered = _altered(memory, now, number, progress)
    write_memory(memory, now)
    drifts = episodes(now)
    return Kept(memory, tuple(drifts), trend(drifts), tuple(altered))


def _words(anchor: KeptAnchor) -> str:
    """The anchor as it is told, and compared: a part to the tenth of a second."""
    if anchor.span is None:
        return anchor.file
    return f"{anchor.file} from {anchor.span[0]:.1f} s" + ("" if anchor.last is None else f" to {anchor.last:.1f} s")


def _demand_same(memory: Path, kept: str, now: str) -> None:
    if now != kept:
        raise LookwrightError(
            str(memory),
            f"keeps the anchor {kept}, and this run has {now}",
            "one anchor for all episodes",
            "leave --anchor out, or keep this series in another file",
        )


def _altered(memory: Path, now: Memory, number: int, progress: Progress) -> list[Altered]:
    """Every matched shot of episodes graded with another look, through theirs and through this one."""
    others = [e for e in now.episode if e.look != number]
    if not others:
        return []
    view = _view(memory, now.look[number])
    advance = part(progress, "what the look alters", sum(len(e.shot) for e in others))
    found = []
    for episode in others:
        theirs = _view(memory, now.look[episode.look])
        for shot in episode.shot:
            if shot.state in ("anchor", "matched"):
                found.append(_alters(memory, episode.name, shot, theirs, view))
            advance(1)
    return found


def _alters(memory: Path, episode: str, shot: KeptShot, theirs: View, ours: View) -> Altered:
    path = _beside(memory, shot.path)
    if is_clip(path):
        return Altered(episode, shot.name, None, None, "only stills are")
    if theirs.output.kind != "display" or ours.output.kind != "display":
        return Altered(episode, shot.name, None, None, "a look that ends in scene light shows no picture")
    try:
        pixels = np.asarray(read(path).pixels[::EVERY, ::EVERY], np.float64)
    except LookwrightError as exc:
        return Altered(episode, shot.name, None, None, exc.line())
    matched = np.ascontiguousarray(shot.correction(pixels), np.float32)
    one, two = (light_to_lab(v.output.to_light(v.graded(matched))) for v in (theirs, ours))
    apart = ciede2000(one, two)
    return Altered(episode, shot.name, float(apart.mean()), float(np.percentile(apart, 95)))


def _view(memory: Path, look: KeptLook) -> View:
    file = _beside(memory, look.file)
    return View(parse_look(look.text, f"{memory}, look {look.file}").with_folder(file.parent))


def _told(memory: Path, path: Path) -> str:
    """As the series file tells a path: from its own folder where it lies in it, so that both can be carried."""
    whole, folder = path.resolve(), memory.resolve().parent
    return whole.relative_to(folder).as_posix() if whole.is_relative_to(folder) else str(whole)


def _beside(memory: Path, told: str) -> Path:
    return memory.resolve().parent / told
