"""Stills out of a clip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from lookwright.assess.measure.plausible_clip import clip_findings
from lookwright.colour.spaces.ranges import Range, from_full
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import WrongUse
from lookwright.files import new_folder
from lookwright.names import Names
from lookwright.outputs import Output
from lookwright.pictures.clips.colour import Levels
from lookwright.pictures.clips.read import Clip, ClipFrame, frames_at, frames_each, read_clip
from lookwright.pictures.stills import write

from .job import declare, job, later
from .progress import SILENT, Progress, ended, part


@dataclass(frozen=True)
class Taken:
    """One still that was written."""

    file: Path
    seconds: float


@dataclass(frozen=True)
class Frames:
    """The stills of a run."""

    clip: Clip
    stills: tuple[Taken, ...]
    doubts: tuple[str, ...]
    """Signs that a still is not what the clip was said to carry."""
    names: tuple[str, ...] = ()
    """What was changed in names, for systems that could not hold them; a sentence each."""


@job(out=later)
def frames(
    clip: Path,
    out: Path,
    *,
    times: Sequence[float] = (),
    every: float | None = None,
    suffix: Literal["png", "tif", "dpx"] = "png",
    matrix: str | None = None,
    range_: Range | None = None,
    levels: Levels = "expand",
    encoding: str | None = None,
    progress: Progress = SILENT,
) -> Frames:
    """Take stills out of a clip into the folder ``out``, bit depth kept, named by their time.

    Parameters
    ----------
    times, every
        Moments in seconds, or one frame each so many seconds: one of the two.
    matrix, range_
        In place of the clip's tags.
    levels
        ``expand`` puts legal black at 0, ``keep`` leaves codes as they are.
    encoding
        What the clip is said to carry: the stills are checked against it.

    Raises
    ------
    LookwrightError
        For a clip that cannot be read, or that says less than is needed.
    Cancelled
        Through ``progress``; stills written so far are whole, and stay.
    """
    if bool(times) == (every is not None):
        raise WrongUse("say which frames: --at TIME (more than once if you like), or --every TIME")
    if every is not None and not every > 0:
        raise WrongUse("--every must be more than 0")
    signal = Signal.named(encoding) if encoding is not None else None
    info = read_clip(clip, matrix, range_)
    wanted = frames_at(info, times, levels) if every is None else frames_each(info, every, levels)
    count = len(set(times)) if every is None else _count(info, every)
    names = Names()
    written: list[Taken] = []
    doubts: list[str] = []
    with new_folder(out), ended(wanted) as found:
        advance = part(progress, "reading", count)
        for frame in found:
            target = out / names.of(f"{names.part(clip.stem)}_{stamp(frame.seconds, float(info.rate))}", f".{suffix}")
            declare([clip], [Output(target, "picture")])
            words = f"{clip.name} at {frame.seconds:.3f} s: {info.in_words()}, levels {levels}"
            write(target, frame.pixels, metadata={"description": words})
            if signal is not None:
                doubts += [f"{target.name}: {d}" for d in doubts_about_frame(frame, info, signal, levels)]
            written.append(Taken(target, frame.seconds))
            advance(1)
        advance(max(0, count - len(written)))  # times within one frame
    return Frames(info, tuple(written), tuple(doubts), tuple(names.sentences()))


def stamp(seconds: float, rate: float = 24.0) -> str:
    """A time for a file name: ``00h01m02s500``; with six digits from 500 frames a second on, to tell frames apart."""
    digits = 3 if rate < 500.0 else 6
    whole, rest = divmod(round(seconds * 10**digits), 10**digits)
    return f"{whole // 3600:02d}h{whole // 60 % 60:02d}m{whole % 60:02d}s{rest:0{digits}d}"


def _count(info: Clip, every: float) -> int:
    """About how many stills there will be: exactly, where all frames last as long."""
    frame = 1.0 / float(info.rate)
    # The end of the last frame is no time of a frame.
    return max(1, int((info.seconds - 0.5 * frame) / max(every, frame)) + 1)


def doubts_about_frame(frame: ClipFrame, info: Clip, signal: Signal, levels: Levels) -> list[str]:
    """What speaks against the declared encoding and range, judged on codes as they stand in the clip."""
    pixels = frame.pixels
    if info.range == "legal" and levels == "expand":
        signal = Signal(signal.encoding, signal.primaries, "legal")
        pixels = from_full(pixels.astype("float64"), "legal").astype("float32")
    return [f.sentence for f in clip_findings(pixels, info, signal)]
