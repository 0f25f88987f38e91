"""A short clip graded into a preview."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Literal

from lookwright.colour.spaces.ranges import Range
from lookwright.errors import WrongUse
from lookwright.files import check_target
from lookwright.look.baking.viewing import View
from lookwright.pictures.clips.codes import GradedFrame, Grading, ahead, all_codes
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

    Raises
    ------
    LookwrightError
        For a look, a clip or a target that cannot be used.
    Cancelled
        Through ``progress``; ``out`` is as it was.
    """
    if last is not None and last <= first:
        raise WrongUse("--to must be later than --from")
    view = View(load_look_or_lut(look, source, output, strength, True, correction)[0], size, moving=True)
    tags = tags_for(view.output.encoding.name, view.output.primaries.name)
    info = read_clip(clip, matrix, range_)
    used = levels_for(view.pipeline.source.range, levels)
    check_target(out)
    end = inf if last is None else last
    seconds = max(0.0, min(info.seconds, end) - first)
    advance = part(progress, "grading", max(1, round(seconds * float(info.rate))))
    with ended(_graded(info, view, first, end, used, tags.matrix, advance)) as graded:
        count = write_clip(out, graded, info.rate, tags, depth, quality)
    shown = view.output
    return GradedClip(
        out, count, info, used, shown.describe(), shown.encoding.name, shown.primaries.name, tags, view.note
    )


def levels_for(source: Range, levels: Levels) -> Levels:
    """A look whose source range is legal is fed the clip's codes as they are."""
    return "keep" if levels == "keep" or source == "legal" else "expand"


def _graded(
    info: Clip, view: View, first: float, last: float, levels: Levels, matrix: str, advance: Callable[[int], None]
) -> Iterator[GradedFrame]:
    view.ready()  # before several threads ask for it at once
    grading = Grading(info, levels, view.graded_rgba, view.output.range, matrix)
    # Decoded and graded in one thread while another encodes: x264 alone does not keep all cores at work.
    with ended(all_codes(info, first, last)) as frames, ended(ahead(map(grading, frames))) as graded:
        for frame in graded:
            yield frame
            advance(1)
