"""``lookwright series``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import (
    json_option,
    look_argument,
    out_option,
    quiet_option,
    say,
    say_doubts,
    stills_option,
    tell,
    tell_json,
)
from .signals import source_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName


@click.command()
@look_argument
@stills_option()
@source_options
@click.option(
    "--anchor",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The still that the others are brought to.",
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
    default=0.1,
    show_default=True,
    type=click.FloatRange(0.0, 4.0),
    help="How far exposure may stay from the anchor.",
)
@click.option(
    "--tolerance-mired",
    default=5.0,
    show_default=True,
    type=click.FloatRange(0.0, 100.0),
    help="How far balance may stay from the anchor.",
)
@out_option("Folder for the CDLs, the drift report and the contact sheets.")
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
    source: SignalName | None,
    anchor: Path,
    marks: Path | None,
    no_marks: bool,
    tolerance_stops: float,
    tolerance_mired: float,
    out: Path,
    as_json: bool,
    quiet: bool,
) -> None:
    """Bring every still to an anchor still with a small ASC CDL, then LOOK for all; report the drift.

    Differences of exposure, balance and flare are corrected. A change of the light itself is not: it is named. Exit
    code 1 when a shot stays outside the tolerance or cannot be matched.
    """
    from lookwright.jobs.series import series

    with TerminalProgress(quiet or as_json) as progress:
        made = series(
            look,
            stills,
            anchor,
            out,
            marks=marks,
            use_marks=not no_marks,
            tolerance_stops=tolerance_stops,
            tolerance_mired=tolerance_mired,
            source=source,
            progress=progress,
        )
    for fault in made.faults:
        say(fault.line())
    say_doubts(made.doubts, quiet)
    if as_json:
        tell_json(
            {
                "shots": [s.to_dict() for s in made.shots],
                "faults": [f.line() for f in made.faults],
                "files": [str(w) for w in made.files],
                "doubts": made.doubts,
            }
        )
    else:
        for shot in made.shots:
            tell(quiet, False, shot.sentence())
        count = len(made.shots) - made.outside
        limits = f"{tolerance_stops:g} stop and {tolerance_mired:g} mired"
        tell(quiet, False, f"{count} of {made.total} within {limits}; report in {out}")
    if made.outside or made.faults:
        raise SystemExit(1)
