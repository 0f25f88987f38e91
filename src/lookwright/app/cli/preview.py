"""``lookwright preview``."""

from __future__ import annotations

from pathlib import Path

import click

from .options import (
    Share,
    json_option,
    out_option,
    progress,
    quiet_option,
    say,
    size_option,
    stills_option,
    strength_option,
    tell,
    tell_json,
)
from .signals import Said, load_look_or_lut, signal_options

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
    type=click.Choice(["jpg", "png", "tif"]),
    default="jpg",
    show_default=True,
    help="jpg has 8 bits and no alpha; png and tif have 16 bits and keep alpha.",
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
    layout: str,
    suffix: str,
    at: float,
    size: int,
    strength: float | None,
    said: Said,
    scheduler: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Grade stills with LOOK_OR_LUT, a look through the same lattice that 'bake' delivers.

    A LUT file that lookwright did not write needs --source and --output.

    A still that cannot be read is reported and the rest are done (exit code 1). From nine stills on, pictures that
    are there already, from the same still and look, are not made again. A few of the stills are looked at for signs
    that they are not the signal the look is fed.
    """
    from lookwright.files import new_folder
    from lookwright.pictures.stills import find_stills

    from .pictures import Doubts, Job, view_of, write_previews

    model, text = load_look_or_lut(look, said, strength, table=True)
    paths = find_stills(stills)
    job = Job(text, str(look.parent), look.stem, model.strength, size, layout, suffix, at)
    view, _ = view_of(job)
    doubts = Doubts(paths, view.pipeline.source)
    with new_folder(out), progress("grading", len(paths), quiet or as_json) as advance:
        written, ready, faults = write_previews(job, paths, out, advance, scheduler, doubts)
        if faults and not written and not ready:
            raise faults[0]
    for fault in faults:
        say(fault.line())
    if not quiet:
        for line in doubts.lines():
            say(line)
    if as_json:
        tell_json(
            {
                "files": [str(w) for w in written],
                "already_there": [str(r) for r in ready],
                "faults": [f.line() for f in faults],
                "output": view.output.describe(),
                "note": view.note,
                "doubts": doubts.sentences,
            }
        )
    note = f" ({view.note})" if view.note else ""
    kept = f", {len(ready)} there already" if ready else ""
    tell(quiet, as_json, f"wrote {len(written)} picture(s){kept} to {out}: {view.output.describe()}{note}")
    if faults:
        raise SystemExit(1)
