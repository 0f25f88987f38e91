"""A clip cut where its light changes: each part is a shot of its own, matched by frames on its side only."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lookwright.colour.spaces.signal import Signal
from lookwright.names import folded, unique
from lookwright.pictures.clips.colour import Levels
from lookwright.pictures.clips.read import Clip
from lookwright.pictures.clips.small import small_frames
from lookwright.solve.series.difference import Difference
from lookwright.solve.series.drift import Drift, drift_of
from lookwright.solve.series.framelight import reduce
from lookwright.solve.series.steps import WINDOW, Step

from .series_shots import PART_ENDING, Source

MEASURED_WIDTH = 480
"""Pixels of the frames that drift is measured on."""


@dataclass(frozen=True)
class Change:
    """A sudden change of light at which a clip is cut."""

    step: Step
    """Its frame counts the frames that were measured."""
    seconds: float
    """Of the clip: when the first frame of the new light is shown."""
    before: float
    """The same of the frame before it."""

    @property
    def edge(self) -> float:
        """Seconds that lie surely between the two frames, whatever is lost in rounding."""
        return 0.5 * (self.before + self.seconds)

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON; without the frame, which counts in no clip."""
        told = self.step.to_dict()
        del told["frame"]
        return {"seconds": self.seconds, **told}

    def words(self) -> str:
        """What changed and where, e.g. ``+0.80 stop on the left``."""
        size = f"{self.step.stops:+.2f} stop" if abs(self.step.stops) >= 0.05 else f"{self.step.mired:+.0f} mired"
        return f"{size} {self.step.where}"


@dataclass(frozen=True)
class Piece:
    """One part of a clip before it is read: which source it is, which frames, and how its light follows."""

    source: Source
    frames: tuple[int, int]
    """Of those that were measured: the first, and the one after the last."""
    shown: int
    """Which of all that were measured stands for it."""
    begins: Change | None
    """None for the first."""
    follows: Difference | None
    """How the camera's light at ``shown`` differs from that of the part before; None for the first, or not known."""


def clock(seconds: float, rate: float) -> str:
    """``hh:mm:ss:ff`` from the clip's first frame, frames counted without a gap."""
    whole = max(1, round(rate))
    minutes, frame = divmod(round(seconds * rate), 60 * whole)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{frame // whole:02d}:{frame % whole:02d}"


def chosen(drift: Drift) -> list[Step]:
    """The steps at which a clip is cut: each with the frames on both sides over which a change must last.

    Of two that lie nearer to each other the larger is taken; one so near to an end of the clip could be a flash.
    """
    count, kept = len(drift.stops), list[Step]()
    for step in sorted(drift.steps, key=lambda s: -max(abs(s.stops) / 0.1, abs(s.mired) / 6.0)):
        if all(abs(step.frame - other) >= WINDOW for other in (0, count, *(s.frame for s in kept))):
            kept.append(step)
    return sorted(kept, key=lambda s: s.frame)


def located(
    clip: Clip, steps: Sequence[Step], times: Sequence[float], every: int, signal: Signal, levels: Levels
) -> list[Change]:
    """The steps to the frame: of a long clip, of which each so many-th frame was measured, the frames between are read.

    A change that took several frames, such as an iris turned, is none that a clip can be cut at, and left out.
    """
    found = []
    for step in steps:
        before, at = times[step.frame - 1], times[step.frame]
        if every == 1:
            found.append(Change(step, at, before))
            continue
        around = (WINDOW + 2) / float(clip.rate)
        frames = [
            (f.seconds, reduce(signal.to_scene(f.pixels)))
            for f in small_frames(clip, MEASURED_WIDTH, max(0.0, before - around), at + around, levels)
        ]
        near = drift_of([light for _, light in frames], float(clip.rate))
        within = [s for s in near.steps if before < frames[s.frame][0] <= at + 1e-6]
        if within:
            one = max(within, key=lambda s: abs(s.stops))
            found.append(Change(step, frames[one.frame][0], frames[one.frame - 1][0]))
    return found


def pieces(
    shot: Source, drift: Drift, times: Sequence[float], changes: Sequence[Change], taken: Collection[str]
) -> list[Piece]:
    """A clip as its parts, in order; itself alone where nothing changes.

    Parameters
    ----------
    taken
        Names of other shots, which no part may have.
    """
    assert shot.clip is not None
    rate = float(shot.clip.rate)
    marks = [0, *(c.step.frame for c in changes), len(times)]
    begins: list[Change | None] = [None, *changes]
    edges = [shot.first, *(c.edge for c in changes), shot.last]
    names = {folded(n) for n in taken}
    found: list[Piece] = []
    for change, (first, end), (start, stop) in zip(
        begins, itertools.pairwise(marks), itertools.pairwise(edges), strict=True
    ):
        source = shot
        if changes:
            opens = times[0] if change is None else change.seconds
            name = shot.shot + PART_ENDING.replace("00-00-00-00", clock(opens, rate).replace(":", "-"))
            source = replace(shot, shot=unique(name, names), whole=shot.shot, first=start, last=stop)
        shown = first + (end - first) // 2
        if not changes:
            shown = int(np.argmin(np.abs(np.array(times) - (shot.first + 0.5 * shot.seconds))))
        follows = drift.between(found[-1].shown, shown) if found else None
        found.append(Piece(source, (first, end), shown, change, follows))
    return found
