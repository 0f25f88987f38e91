"""``lookwright preview``."""

from __future__ import annotations

from pathlib import Path

import click

from .options import (
    Share,
    json_option,
    load_look,
    look_argument,
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

LAYOUTS = ("graded", "pair", "wipe", "sheet")


@click.command()
@look_argument
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
    scheduler: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Grade stills with LOOK through the same lattice that 'bake' delivers.

    A still that cannot be read is reported and the rest are done (exit code 1). Pictures that are there already, from
    the same still and look, are not made again.
    """
    from ..files import new_folder
    from ..stills import find_stills
    from .pictures import Job, view_of, write_previews

    model, text = load_look(look, strength)
    paths = find_stills(stills)
    job = Job(text, str(look.parent), look.stem, model.strength, size, layout, suffix, at)
    view, _ = view_of(job)
    with new_folder(out), progress("grading", len(paths), quiet or as_json) as advance:
        written, ready, faults = write_previews(job, paths, out, advance, scheduler)
        if faults and not written and not ready:
            raise faults[0]
    for fault in faults:
        say(fault.line())
    if as_json:
        tell_json(
            {
                "files": [str(w) for w in written],
                "already_there": [str(r) for r in ready],
                "faults": [f.line() for f in faults],
                "output": view.output.describe(),
                "note": view.note,
            }
        )
    note = f" ({view.note})" if view.note else ""
    kept = f", {len(ready)} there already" if ready else ""
    tell(quiet, as_json, f"wrote {len(written)} picture(s){kept} to {out}: {view.output.describe()}{note}")
    if faults:
        raise SystemExit(1)
