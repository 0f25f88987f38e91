"""``lookwright preview``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import (
    Share,
    json_option,
    out_option,
    quiet_option,
    say,
    say_doubts,
    size_option,
    stills_option,
    strength_option,
    tell,
    tell_json,
)
from .signals import signal_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName
    from lookwright.jobs.grading import Layout, Suffix
    from lookwright.jobs.preview import Previews

LAYOUTS = ("graded", "pair", "wipe", "sheet")


@click.command()
@click.argument("look", type=click.Path(path_type=Path), metavar="LOOK_OR_LUT")
@stills_option()
@out_option("Folder for the pictures.")
@click.option(
    "--layout",
    type=click.Choice(LAYOUTS),
    default="graded",
    show_default=True,
    help="graded: each still alone; pair: plain beside graded; wipe: plain left, graded right; sheet: all in one.",
)
@click.option(
    "--format",
    "suffix",
    type=click.Choice(["jpg", "webp", "png", "tif"]),
    default="jpg",
    show_default=True,
    help="jpg has 8 bits and no alpha; webp 8 bits without loss, and alpha; png and tif 16 bits, and alpha.",
)
@click.option("--at", type=Share(), default=0.5, show_default=True, help="Where a wipe is cut.")
@size_option
@strength_option
@signal_options
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Grade on the workers of a Dask scheduler that see the same files (extra 'cluster').",
)
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
    out: Path,
    layout: Layout,
    suffix: Suffix,
    at: float,
    size: int,
    strength: float | None,
    source: SignalName | None,
    output: SignalName | None,
    correction: str | None,
    scheduler: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Grade stills with LOOK_OR_LUT, a look through the same lattice that 'bake' delivers, a LUT file as it is.

    A LUT file that lookwright did not write needs --source and --output; a look takes --source for another camera. Of
    an ASC CDL with several corrections --correction picks one.

    A still that cannot be read is reported and the rest are done (exit code 1). From nine stills on, pictures that
    are there already, from the same still and look, are not made again. A few of the stills are looked at for signs
    that they are not the signal the look is fed.
    """
    from lookwright.jobs.preview import preview

    with TerminalProgress(quiet or as_json) as progress:
        made = preview(
            look,
            stills,
            out,
            layout=layout,
            suffix=suffix,
            at=at,
            size=size,
            strength=strength,
            source=source,
            output=output,
            correction=correction,
            scheduler=scheduler,
            progress=progress,
        )
    for fault in made.faults:
        say(fault.line())
    if not quiet:
        for sentence in made.names:
            say(f"names: {sentence}")
    say_doubts(made.doubts, quiet)
    if as_json:
        tell_json(_data(made))
    if made.left_out:
        tell(quiet, as_json, f"left out {len(made.left_out)} picture(s) in {out} that were graded already")
    note = f" ({made.note})" if made.note else ""
    kept = f", {len(made.ready)} there already" if made.ready else ""
    tell(quiet, as_json, f"wrote {len(made.written)} picture(s){kept} to {out}: {made.output}{note}")
    if made.faults:
        raise SystemExit(1)


def _data(made: Previews) -> dict[str, Any]:
    return {
        "files": [str(w) for w in made.written],
        "already_there": [str(r) for r in made.ready],
        "left_out": [str(p) for p in made.left_out],
        "faults": [f.line() for f in made.faults],
        "output": made.output,
        "note": made.note,
        "doubts": made.doubts,
    }
