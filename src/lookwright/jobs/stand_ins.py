"""A still for each shot that is a clip, to be matched and shown by, and how the light moves inside the clip."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError
from lookwright.pictures.batch import run_local
from lookwright.pictures.clips.colour import Levels
from lookwright.pictures.clips.read import Clip, ClipFrame
from lookwright.pictures.clips.small import small_frames
from lookwright.pictures.stills import write
from lookwright.solve.series.drift import Drift, drift_of
from lookwright.solve.series.framelight import FrameLight, reduce
from lookwright.solve.series.through import Link

from .clip import levels_for
from .doubts import by_name
from .frames import doubts_about_frame
from .parts import MEASURED_WIDTH, Change, Piece, chosen, clock, located, pieces
from .progress import ended
from .series_shots import Source

WIDEST = 1920
"""Pixels of a still that stands for a clip: matching needs no more."""

MOST_MEASURED = 480
"""Frames of one clip that drift is measured on, evenly chosen: twenty seconds of film frame by frame."""


@dataclass(frozen=True)
class Inside:
    """What happens within one clip, or within a part of one."""

    drift: Drift
    times: tuple[float, ...]
    """Seconds of the clip at which its frames were measured."""
    shown: int
    """Which of them stands for the shot."""
    every: int = 1
    """Each so many-th frame of the clip was measured."""
    begins: Change | None = None
    """The change of light that a part begins with."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        begins = {} if self.begins is None else {"begins": self.begins.to_dict()}
        return {"seconds": list(self.times), **self.drift.to_dict(), **begins}

    def sentences(self) -> list[str]:
        """What a person should know: drift, flicker, changes of light; nothing where all is still."""
        d = self.drift
        said = []
        if self.begins is not None:
            said.append(f"begins where the light changes, {self.begins.words()}")
        if d.span_stops > 0.05 or d.span_mired > 3.0:
            said.append(f"drifts by {d.span_stops:.2f} stop and {d.span_mired:.0f} mired")
        if d.flicker_stops > 0.01:
            said.append(f"flickers by {d.flicker_stops:.3f} stop (rms)")
        for step in d.steps:
            said.append(f"its light changes at {self._place(step.frame)}, {step.where}: not cut there")
        for frame in d.unlike:
            said.append(f"another picture begins at {self._place(frame)}: cut it there")
        return said

    def _place(self, frame: int) -> str:
        return f"{self.times[frame]:.2f} s (frame {round(self.times[frame] * self.drift.rate * self.every)})"


@dataclass
class StandIns:
    """By name of a shot, those that clips were cut into among them."""

    stills: dict[str, Path] = field(default_factory=dict)
    inside: dict[str, Inside] = field(default_factory=dict)
    doubts: dict[str, list[str]] = field(default_factory=dict)
    faults: dict[str, LookwrightError] = field(default_factory=dict)
    """By name of a whole clip."""
    parts: dict[str, list[Piece]] = field(default_factory=dict)
    """By name of a whole clip, what it was cut into: itself alone, most often."""

    def sources(self, shots: Sequence[Source]) -> list[Source]:
        """Every shot that could be read, parts in the place of what was cut."""
        found: list[Source] = []
        for shot in shots:
            if shot.clip is None:
                found.append(shot)
            elif shot.shot in self.parts:
                found += [piece.source for piece in self.parts[shot.shot]]
        return found


def stand_ins(
    shots: Sequence[Source],
    folder: Path,
    signal: Signal,
    levels: Levels = "expand",
    advance: Callable[[int], None] = lambda count: None,
    cut: bool = True,
) -> StandIns:
    """Read every clip once, whole: the frame in its middle into ``folder``, its drift, and doubts about its codes.

    With ``cut``, where its light changes from one frame to the next: then there is a still for each part of it. A clip
    that is damaged, even at its end, is a fault. Stills stand for themselves.
    """
    found = StandIns()
    names = {s.shot for s in shots}

    def work(shot: Source) -> None:
        if shot.clip is not None:
            _read(found, shot, shot.clip, folder, signal, levels, names if cut else None)

    found.stills.update({s.shot: s.path for s in shots if s.clip is None})
    with ended(run_local(shots, work, os.cpu_count() or 1)) as outcomes:
        for outcome in outcomes:
            if outcome.fault is not None:
                found.faults[outcome.task.shot] = outcome.fault
            advance(1)
    return found


def _read(
    found: StandIns, shot: Source, clip: Clip, folder: Path, signal: Signal, levels: Levels, names: set[str] | None
) -> None:
    """One clip; cut unless ``names``, those of all shots, is None."""
    used = levels_for(signal.range, levels)
    count = max(1, round(shot.seconds * float(clip.rate)))
    every = max(1, -(-count // MOST_MEASURED))
    light: list[FrameLight] = []
    times: list[float] = []
    for frame in small_frames(clip, MEASURED_WIDTH, shot.first, shot.last, used, every):
        light.append(reduce(signal.to_scene(frame.pixels)))
        times.append(frame.seconds)
    if not light:
        raise LookwrightError(str(clip.path), f"no frame from {shot.first:.2f} s on", "a clip with frames")
    drift = drift_of(light, float(clip.rate) / every)
    changes = located(clip, chosen(drift), times, every, signal, used) if names is not None else []
    made = pieces(shot, drift, times, changes, names or ())
    for piece in made:
        name, (first, end) = piece.source.shot, piece.frames
        still = next(small_frames(clip, WIDEST, times[piece.shown] - 1e-4, levels=used))
        path = folder / f"{name}.tif"
        write(path, still.pixels)
        found.stills[name] = path
        part = drift.part(first, end) if len(made) > 1 else drift
        found.inside[name] = Inside(part, tuple(times[first:end]), piece.shown - first, every, piece.begins)
        if sentences := _doubts(still, clip, signal, used):
            found.doubts[name] = sentences
    found.parts[shot.shot] = made


def _doubts(frame: ClipFrame, clip: Clip, signal: Signal, levels: Levels) -> list[str]:
    """What speaks against the clip's being the look's source."""
    named = [f.sentence for f in by_name(clip.path, signal)]
    return [*named, *doubts_about_frame(frame, clip, signal, levels)]


def links(ins: StandIns) -> list[Link]:
    """How the light of each part of a clip follows from that of the part before, where the clip shows it."""
    return [
        Link(ins.stills[one.source.shot], ins.stills[other.source.shot], one.source.shot, other.follows)
        for parts in ins.parts.values()
        for one, other in itertools.pairwise(parts)
        if other.follows is not None
    ]


def cut_notes(ins: StandIns) -> list[str]:
    """For each clip that was cut, where and into what, a sentence."""
    said = []
    for whole, parts in ins.parts.items():
        at = [
            f"{clock(p.begins.seconds, float(p.source.clip.rate))} ({p.begins.words()})"
            for p in parts
            if p.begins is not None and p.source.clip is not None
        ]
        if at:
            names = " and ".join(p.source.shot for p in parts)
            said.append(
                f"{whole}: its light changes at {', '.join(at)}: cut there into {names} (--whole keeps it whole)"
            )
    return said
