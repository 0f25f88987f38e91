"""``lookwright check``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import (
    carried,
    json_option,
    look_or_lut,
    quiet_option,
    say,
    stills_option,
    strength_option,
    tell,
    tell_json,
)
from .signals import signal_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName


@click.command()
@look_or_lut("LOOK_OR_LUT")
@stills_option(required=False)
@click.option(
    "--marks",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Marks of the stills: those on skin are judged. Default: marks.toml in the stills' folder, where "
    "there is one.",
)
@signal_options
@click.option(
    "--html",
    type=click.Path(path_type=Path),
    callback=carried,
    metavar="FILE",
    help="Also write a report in one self-contained file, with before and after of each still.",
)
@click.option("--detail", is_flag=True, help="Every measure, why each limit is where it is, and its source.")
@strength_option
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
    marks: Path | None,
    source: SignalName | None,
    output: SignalName | None,
    correction: str | None,
    html: Path | None,
    detail: bool,
    strength: float | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Say what LOOK_OR_LUT does and whether it harms faces, skies, leaves, greys or shadows; exit 1 when it does.

    A still that cannot be read is reported and the rest are done (exit 1).

    A look, a .cube written by lookwright (which says what it is fed), or any other LUT with --source and --output. All
    is held against the plain rendering and against the colours of the scene. A look may set its own limit for a measure
    with its reason: [limits.NAME].
    """
    from lookwright.jobs.given import is_lut

    if not (is_lut(look) or stills or marks or source or output or correction or html):
        # What can be wrong then is wrong in the look: told before what measures is loaded, in three fifths of the time.
        from lookwright.look.recipe.read import read_look

        read_look(look)
    from lookwright.jobs.check import check, report_lines

    with TerminalProgress(quiet or as_json) as progress:
        report = check(
            look,
            stills=stills,
            marks=marks,
            source=source,
            output=output,
            correction=correction,
            html=html,
            strength=strength,
            progress=progress,
        )
    for fault in report.faults:
        say(fault)
    if as_json:
        tell_json(report.to_dict())
    else:
        for line in report_lines(report, detail):
            tell(quiet, as_json, line)
        if html is not None:
            tell(quiet, as_json, f"report in {html}")
    if report.worst == "fail" or report.faults:
        raise SystemExit(1)
