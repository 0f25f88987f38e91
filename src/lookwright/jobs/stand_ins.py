"""A still for each shot that is a clip, to be matched and shown by, and how the light moves inside the clip."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError
from lookwright.pictures.batch import run_local
from lookwright.pictures.clips.colour import Levels
from lookwright.pictures.clips.read import Clip, ClipFrame
from lookwright.pictures.clips.small import small_frames
from lookwright.pictures.stills import write
from lookwright.solve.series.drift import Drift, drift_of
from lookwright.solve.series.framelight import FrameLight, reduce

from .clip import levels_for
from .doubts import by_name
from .frames import doubts_about_frame
from .progress import ended
from .series_shots import Source

WIDEST = 1920
"""Pixels of a still that stands for a clip: matching needs no more."""

MEASURED_WIDTH = 480
"""Pixels of the frames that drift is measured on."""

MOST_MEASURED = 480
"""Frames of one clip that drift is measured on, evenly chosen: twenty seconds of film frame by frame."""


@dataclass(frozen=True)
class Inside:
    """What happens within one clip."""

    drift: Drift
    times: tuple[float, ...]
    """Seconds of the clip at which its frames were measured."""
    shown: int
    """Which of them stands for the shot."""
    every: int = 1
    """Each so many-th frame of the clip was measured."""

    def sentences(self) -> list[str]:
        """What a person should know: drift, flicker, changes of light; nothing where all is still."""
        d = self.drift
        said = []
        if d.span_stops > 0.05 or d.span_mired > 3.0:
            said.append(f"drifts by {d.span_stops:.2f} stop and {d.span_mired:.0f} mired")
        if d.flicker_stops > 0.01:
            said.append(f"flickers by {d.flicker_stops:.3f} stop (rms)")
        for step in d.steps:
            said.append(f"its light changes at {self._place(step.frame)}, {step.where}: cut it there")
        for frame in d.unlike:
            said.append(f"another picture begins at {self._place(frame)}: cut it there")
        return said

    def _place(self, frame: int) -> str:
        return f"{self.times[frame]:.2f} s (frame {frame * self.every})"


@dataclass
class StandIns:
    """By name of a shot."""

    stills: dict[str, Path] = field(default_factory=dict)
    inside: dict[str, Inside] = field(default_factory=dict)
    doubts: dict[str, list[str]] = field(default_factory=dict)
    faults: dict[str, LookwrightError] = field(default_factory=dict)


def stand_ins(
    shots: Sequence[Source],
    folder: Path,
    signal: Signal,
    levels: Levels = "expand",
    advance: Callable[[int], None] = lambda count: None,
) -> StandIns:
    """Read every clip once, whole: the frame in its middle into ``folder``, its drift, and doubts about its codes.

    A clip that is damaged, even at its end, is a fault. Stills stand for themselves.
    """
    found = StandIns()

    def work(shot: Source) -> None:
        if shot.clip is not None:
            _read(found, shot, shot.clip, folder, signal, levels)

    found.stills.update({s.shot: s.path for s in shots if s.clip is None})
    with ended(run_local(shots, work, os.cpu_count() or 1)) as outcomes:
        for outcome in outcomes:
            if outcome.fault is not None:
                found.faults[outcome.task.shot] = outcome.fault
            advance(1)
    return found


def _read(found: StandIns, shot: Source, clip: Clip, folder: Path, signal: Signal, levels: Levels) -> None:
    used = levels_for(signal.range, levels)
    count = max(1, round(shot.seconds * float(clip.rate)))
    every = max(1, -(-count // MOST_MEASURED))
    middle = shot.first + 0.5 * shot.seconds
    light: list[FrameLight] = []
    times: list[float] = []
    for frame in small_frames(clip, MEASURED_WIDTH, shot.first, shot.last, used, every):
        light.append(reduce(signal.to_scene(frame.pixels)))
        times.append(frame.seconds)
    if not light:
        raise LookwrightError(str(clip.path), f"no frame from {shot.first:.2f} s on", "a clip with frames")
    shown = int(np.argmin(np.abs(np.array(times) - middle)))
    still = next(small_frames(clip, WIDEST, times[shown] - 1e-4, levels=used))
    path = folder / f"{shot.shot}.tif"
    write(path, still.pixels)
    found.stills[shot.shot] = path
    found.inside[shot.shot] = Inside(drift_of(light, float(clip.rate) / every), tuple(times), shown, every)
    if sentences := _doubts(still, clip, signal, used):
        found.doubts[shot.shot] = sentences


def _doubts(frame: ClipFrame, clip: Clip, signal: Signal, levels: Levels) -> list[str]:
    """What speaks against the clip's being the look's source."""
    named = [f.sentence for f in by_name(clip.path, signal)]
    return [*named, *doubts_about_frame(frame, clip, signal, levels)]
