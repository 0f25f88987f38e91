"""``lookwright undo``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import json_option, look_or_lut, out_option, quiet_option, size_option, tell, tell_json
from .signals import plain_signal_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName


@click.command()
@look_or_lut("LOOK_OR_LUT")
@out_option("The .cube to write: from what the look gives back to what it is fed.")
@click.option(
    "--graded",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PATH",
    help="A graded still, or a folder of them, in the look's output encoding. May be given more than once.",
)
@click.option(
    "--pictures",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder for the stills taken back, 16-bit PNG in the look's source encoding.",
)
@plain_signal_options
@size_option
@json_option
@quiet_option
def command(
    look: Path,
    out: Path,
    graded: tuple[Path, ...],
    pictures: Path | None,
    source: SignalName | None,
    output: SignalName | None,
    size: int,
    as_json: bool,
    quiet: bool,
) -> None:
    """Take graded pictures back to the log they were shot in: the inverse of a look or a LUT.

    What is clipped, folded or pressed together cannot be undone; how much that is, is told. Stills are taken back pixel
    by pixel, exactly, with a mask beside each that is black where it could not be; the LUT is the same on a lattice.
    """
    from lookwright.jobs.undo import undo

    with TerminalProgress(quiet or as_json) as progress:
        made = undo(look, out, graded, pictures, source=source, output=output, size=size, progress=progress)
    if as_json:
        tell_json(made.to_dict())
    for line in made.words():
        tell(quiet, as_json, line)
    tell(quiet, as_json, f"wrote {out}")
