"""``lookwright series``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from .clip_options import levels_option, matrix_option, range_option
from .options import (
    json_option,
    look_argument,
    out_option,
    quiet_option,
    say,
    say_doubts,
    size_option,
    tell,
)
from .series_options import handing_options, memory_options, shot_options
from .series_words import tell_kept, tell_result
from .signals import source_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName
    from lookwright.jobs.series_clips import ClipLayout


@click.command()
@look_argument
@shot_options
@source_options
@click.option(
    "--anchor",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The still or clip that the others are brought to, or the name of one of the shots or of a part of one. "
    "Default: the one that --memory keeps.",
)
@click.option(
    "--marks",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Marks of the stills. Default: marks.toml in the anchor's folder, where there is one.",
)
@click.option("--no-marks", is_flag=True, help="Match by whole frames, even where there are marks.")
@click.option(
    "--tolerance-stops",
    type=click.FloatRange(0.0, 4.0),
    help="How far exposure may stay from the anchor.  [default: 0.1, or what --memory keeps]",
)
@click.option(
    "--tolerance-mired",
    type=click.FloatRange(0.0, 100.0),
    help="How far balance may stay from the anchor.  [default: 5, or what --memory keeps]",
)
@memory_options
@handing_options
@size_option
@matrix_option
@range_option
@levels_option
@out_option("Folder for everything that is made.")
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
    shots: tuple[Path, ...],
    timeline: Path | None,
    media: tuple[Path, ...],
    rate: float | None,
    whole: bool,
    source: SignalName | None,
    anchor: Path | None,
    marks: Path | None,
    no_marks: bool,
    tolerance_stops: float | None,
    tolerance_mired: float | None,
    memory: Path | None,
    episode: str,
    cubes: bool,
    config: bool,
    clips: ClipLayout | None,
    steady: bool,
    scheduler: str | None,
    size: int,
    matrix: str | None,
    range_: Literal["legal", "full"] | None,
    levels: Literal["expand", "keep"],
    out: Path,
    as_json: bool,
    quiet: bool,
) -> None:
    """Bring every shot to an anchor with a small ASC CDL, then LOOK for all; report the drift.

    Shots are clips and stills, or the events of a timeline. Differences of exposure, balance and flare are corrected. A
    change of the light itself is not: it is named. Exit code 1 when a shot stays outside the tolerance or cannot be
    matched or read.

    Shots framed otherwise are matched by what they show together, over all shots at once (extra 'matching'), each with
    its error: what is not determined is not corrected and said to be not known, and a change of light is named with its
    place. With --memory the series is kept from episode to episode: the next one is compared with the same anchor, and
    it is told how episodes drift and what another look would alter in those that are finished.

    A clip is cut where its light changes from one frame to the next: each part is a shot of its own, called by where it
    begins, such as C001-from-00-00-03-12 (hours, minutes, seconds and frames from the clip's first), and what --clips
    grades changes its correction at that frame.

    Written: series.ccc and one .cdl a shot; with --timeline your own EDL, changed in nothing but its ASC_SOP and
    ASC_SAT remarks, or your .otio with the CDLs in its metadata; series.html with the pictures first. Clips that are
    graded already, from the same clip, match and look, are not graded again.
    """
    from lookwright.jobs.series import series
    from lookwright.jobs.series_material import ClipReading, Cut, Forms
    from lookwright.jobs.series_memory import given, keep

    used = given(memory, anchor, marks, tolerance_stops, tolerance_mired, out)
    with TerminalProgress(quiet or as_json) as progress:
        made = series(
            look,
            (*stills, *shots),
            used.anchor,
            out,
            marks=used.marks,
            use_marks=not no_marks,
            tolerance_stops=used.stops,
            tolerance_mired=used.mired,
            source=source,
            anchor_span=used.span,
            cut=Cut(timeline, media, rate),
            reading=ClipReading(matrix, range_, levels, whole),
            forms=Forms(cubes, config, clips, size, scheduler, steady),
            progress=progress,
        )
        kept = None
        if memory is not None:
            settled = used.settled(made.anchor)
            kept = keep(memory, episode, look, made.shots, settled, source=source, progress=progress)
    for fault in made.every_fault:
        say(fault.line())
    say_doubts(made.doubts, quiet)
    tell_result(made, kept, quiet, as_json)
    if not as_json:
        count = len(made.shots) - made.outside
        limits = f"{used.stops:g} stop and {used.mired:g} mired"
        tell(quiet, False, f"{count} of {made.total} within {limits}; report in {out}")
        tell_kept(kept, quiet)
    if made.outside or made.every_fault:
        raise SystemExit(1)
