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
    as_json: bool,
    quiet: bool,
) -> None:
    """Grade stills with LOOK through the same lattice that 'bake' delivers."""
    from ..files import new_folder
    from ..lut.viewing import View
    from ..stills import find_stills
    from .pictures import write_previews

    model, _ = load_look(look, strength)
    paths = find_stills(stills)
    view = View(model, size)
    with new_folder(out), progress("grading", len(paths), quiet or as_json) as advance:
        written = write_previews(view, look.stem, paths, out, layout, suffix, at, advance)
    if as_json:
        tell_json({"files": [str(w) for w in written], "output": view.output.describe(), "note": view.note})
    note = f" ({view.note})" if view.note else ""
    tell(quiet, as_json, f"wrote {len(written)} picture(s) to {out}: {view.output.describe()}{note}")
