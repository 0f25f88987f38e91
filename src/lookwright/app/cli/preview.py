"""``lookwright preview``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lookwright.system import keep_memory

from .options import (
    Share,
    json_option,
    look_or_lut,
    out_option,
    quiet_option,
    say,
    say_doubts,
    shares,
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

LAYOUTS = ("graded", "pair", "wipe", "sheet", "variants", "turns")


@click.command()
@look_or_lut("LOOK_OR_LUT")
@stills_option()
@out_option("Folder for the pictures.")
@click.option(
    "--layout",
    type=click.Choice(LAYOUTS),
    default="graded",
    show_default=True,
    help="graded: each still alone; pair: plain beside graded; wipe: plain left, graded right; sheet: all in one; "
    "variants: forms of the look beside one another; turns: plain and graded in turns, as one moving picture.",
)
@click.option(
    "--format",
    "suffix",
    type=click.Choice(["jpg", "webp", "png", "tif", "gif"]),
    help="jpg has 8 bits and no alpha; webp 8 bits without loss, and alpha; png and tif 16 bits, and alpha. Turns are "
    "webp (with loss) or gif (256 colours). Default: jpg, for turns webp.",
)
@click.option("--at", type=Share(), default=0.5, show_default=True, help="Where a wipe is cut.")
@click.option(
    "--strengths",
    callback=shares,
    metavar="S,S,...",
    help="For variants and turns: the strengths shown. Default: 0.3,0.6,1; for turns as the look says.",
)
@click.option(
    "--vary",
    metavar="STEP.NUMBER[=V,V,...]",
    help="For variants and turns: one number of a step, as in 3.amount=0.8,1,1.2; without values over its usual range.",
)
@click.option(
    "--with",
    "others",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="LOOK_OR_LUT",
    help="For variants and turns: another look to stand beside the first. May be given more than once.",
)
@click.option(
    "--hold",
    type=click.FloatRange(1.0, 20.0),
    default=2.0,
    show_default=True,
    metavar="SECONDS",
    help="For turns: how long each stands; a fade takes one second more.",
)
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
    suffix: Suffix | None,
    at: float,
    strengths: tuple[float, ...],
    vary: str | None,
    others: tuple[Path, ...],
    hold: float,
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

    Turns never flash: a change takes a second and stands for at least one (WCAG 2.3.1 allows three flashes a second).
    """
    from lookwright.jobs.preview import preview

    keep_memory()

    with TerminalProgress(quiet or as_json) as progress:
        made = preview(
            look,
            stills,
            out,
            layout=layout,
            suffix=suffix,
            at=at,
            strengths=strengths,
            vary=vary,
            others=others,
            hold=hold,
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
