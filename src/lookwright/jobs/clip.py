"""A short clip graded into a preview."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Literal

from lookwright.colour.spaces.ranges import Range
from lookwright.errors import WrongUse
from lookwright.files import check_target
from lookwright.look.baking.viewing import View
from lookwright.pictures.clips.codes import CodedFrame, GradedFrame, Grading, ahead, all_codes
from lookwright.pictures.clips.colour import Levels
from lookwright.pictures.clips.read import Clip, read_clip
from lookwright.pictures.clips.write import Tags, tags_for, write_clip

from .given import SignalName
from .job import job
from .luts import load_look_or_lut
from .progress import SILENT, Progress, ended, part


@dataclass(frozen=True)
class GradedClip:
    """The clip that was written."""

    file: Path
    frames: int
    clip: Clip
    levels: Levels
    output: str
    """What the picture is, in words."""
    encoding: str
    primaries: str
    tags: Tags
    note: str
    """What was done to make the look visible; often nothing."""


@job(out="clip")
def clip(
    look: Path,
    clip: Path,
    out: Path,
    *,
    first: float = 0.0,
    last: float | None = None,
    depth: Literal[8, 10] = 8,
    quality: int = 16,
    matrix: str | None = None,
    range_: Range | None = None,
    levels: Levels = "expand",
    size: int = 33,
    strength: float | None = None,
    source: SignalName | None = None,
    output: SignalName | None = None,
    correction: str | None = None,
    changes: Sequence[tuple[float, Path]] = (),
    progress: Progress = SILENT,
) -> GradedClip:
    """Grade a clip with a look or a LUT into an H.264 preview: legal range, 4:2:0, no sound.

    Parameters
    ----------
    out
        Ending in ``.mp4``.
    source, output, correction
        For a LUT file: what it is fed and gives, where it does not say so itself, and which one of a collection.
    first, last
        Seconds; ``last`` None is the end.
    depth, quality
        Bits, and the encoder's rate factor: 0 loses nothing, 51 is worst.
    matrix, range_, levels
        As :func:`frames.frames`. A look whose source range is legal is fed the clip's codes as they are.

    source
        What the clip is, in place of the look's own source.
    changes
        In rising order, seconds from which on another LUT is used, of the same source and output.

    Raises
    ------
    LookwrightError
        For a look, a clip or a target that cannot be used.
    Cancelled
        Through ``progress``; ``out`` is as it was.
    """
    if last is not None and last <= first:
        raise WrongUse("--to must be later than --from")
    views = [
        View(load_look_or_lut(file, source, output, strength, True, correction)[0], size, moving=True)
        for file in (look, *(file for _, file in changes))
    ]
    view = views[0]
    tags = tags_for(view.output.encoding.name, view.output.primaries.name)
    info = read_clip(clip, matrix, range_)
    used = levels_for(view.pipeline.source.range, levels)
    check_target(out)
    end = inf if last is None else last
    seconds = max(0.0, min(info.seconds, end) - first)
    advance = part(progress, "grading", max(1, round(seconds * float(info.rate))))
    gradings = [_grading(info, v, used, tags.matrix) for v in views]
    with ended(_graded(info, gradings, [at for at, _ in changes], first, end, advance)) as graded:
        count = write_clip(out, graded, info.rate, tags, depth, quality)
    shown = view.output
    return GradedClip(
        out, count, info, used, shown.describe(), shown.encoding.name, shown.primaries.name, tags, view.note
    )


def levels_for(source: Range, levels: Levels) -> Levels:
    """A look whose source range is legal is fed the clip's codes as they are."""
    return "keep" if levels == "keep" or source == "legal" else "expand"


def _grading(info: Clip, view: View, levels: Levels, matrix: str) -> Grading:
    view.ready()  # before several threads ask for it at once
    transform, within = view.transform()
    return Grading(info, levels, view.graded_rgba, view.output.range, matrix, transform=transform, within=within)


def _graded(
    info: Clip,
    gradings: Sequence[Grading],
    changes: Sequence[float],
    first: float,
    last: float,
    advance: Callable[[int], None],
) -> Iterator[GradedFrame]:
    def grade(frame: CodedFrame) -> GradedFrame:
        return gradings[bisect_right(changes, frame.seconds)](frame)

    # Decoded and graded in one thread while another encodes: x264 alone does not keep all cores at work.
    with ended(all_codes(info, first, last)) as frames, ended(ahead(map(grade, frames))) as graded:
        for frame in graded:
            yield frame
            advance(1)
