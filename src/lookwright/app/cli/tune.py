"""``lookwright tune``."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lookwright.errors import LookwrightError

from .options import (
    carried,
    json_option,
    look_argument,
    out_option,
    quiet_option,
    say_doubts,
    stills_option,
    tell,
    tell_json,
)
from .signals import source_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName

STOPPED = 130
"""Exit code after Ctrl-C, as shells give it; the best so far has been written."""


@click.command()
@look_argument
@stills_option(required=False)
@source_options
@out_option("The new look. May be LOOK itself; remarks are kept.")
@click.option(
    "--reference",
    "references",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FRAME",
    help="A finished frame of other content to come near to. May be given more than once.",
)
@click.option(
    "--pair",
    "pairs",
    nargs=2,
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="BEFORE AFTER",
    help="One frame ungraded (in the look's source encoding) and graded. May be repeated.",
)
@click.option(
    "--reference-encoding",
    metavar="NAME",
    help="Signal encoding of references and of graded frames. Default: the look's output.",
)
@click.option(
    "--marks",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Marks of the stills; those with a level are targets. Where it also marks the reference, parts of "
    "one role are compared with each other. Default: marks.toml beside each still, whose levels are targets where no "
    "other goal is asked for.",
)
@click.option(
    "--mark",
    "mark_texts",
    multiple=True,
    metavar="NAME=X,Y,W,H",
    help="A box on every still, as fractions of the frame. May be given more than once.",
)
@click.option(
    "--level",
    "level_texts",
    multiple=True,
    metavar="NAME=LEVEL",
    help="The level wanted at a mark, in percent of signal. May be given more than once.",
)
@click.option(
    "--separation",
    type=click.FloatRange(0.0, 180.0),
    metavar="DEGREES",
    help="Least angle between the warm and the cool colours of the stills.",
)
@click.option(
    "--weight",
    "weight_texts",
    multiple=True,
    metavar="GOAL=NUMBER",
    help="How much a goal counts (1): pairs, reference, levels, separation, colour (kept, where only levels "
    "are asked for), restraint.",
)
@click.option(
    "--lock",
    multiple=True,
    metavar="STEP.PARAMETER",
    help="A parameter, or a whole step, that must not move. May be given more than once.",
)
@click.option(
    "--free",
    multiple=True,
    metavar="STEP.PARAMETER",
    help="A parameter that may move although the recipe or its declaration locks it, or another does the same.",
)
@click.option("--wide", is_flag=True, help="Allow each parameter all of its hard bounds, not only its usual range.")
@click.option("--seed", default=0, show_default=True, type=click.IntRange(0), help="Chooses the pixels tuned on.")
@click.option(
    "--samples",
    default=1200,
    show_default=True,
    type=click.IntRange(100, 100_000),
    help="Pixels tuned on, over all stills. Time grows with them, not with the stills' size.",
)
@click.option("--date", metavar="TEXT", help="Date in the note that the new look gets. Default: today's.")
@click.option(
    "--sheet",
    type=click.Path(path_type=Path),
    callback=carried,
    metavar="FILE",
    help="Also draw before, after and reference with plots of tone and colour (.png).",
)
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
    source: SignalName | None,
    out: Path,
    references: tuple[Path, ...],
    pairs: tuple[tuple[Path, Path], ...],
    reference_encoding: str | None,
    marks: Path | None,
    mark_texts: tuple[str, ...],
    level_texts: tuple[str, ...],
    separation: float | None,
    weight_texts: tuple[str, ...],
    lock: tuple[str, ...],
    free: tuple[str, ...],
    wide: bool,
    seed: int,
    samples: int,
    date: str | None,
    sheet: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Move LOOK's parameters toward a reference, before/after pairs or levels on marks, and write a new look.

    Goals may be combined. The measures of 'check' hold the look back whatever the goal. What the pictures do not
    determine stays where it was, and is counted; a parameter that ends on a bound is named. The report has ten lines at
    most; --json has everything.

    Of parameters that do the same to the scale of greys (exposure and where grey lands; two slopes) one moves and the
    others are held, which is said; toward whole frames (--pair, --reference) none is.

    A level that no grade within the bounds and restraint brings about is told as light: so many stops on that zone.

    Exit 1 when a level target is not met or 'check' fails on the result, 130 after Ctrl-C; the new look is written in
    each of these cases.
    """
    from lookwright.jobs.tune import Goals, Parameters, tune

    goals = Goals(
        stills=stills,
        references=references,
        pairs=pairs,
        reference_encoding=reference_encoding or "",
        marks=marks,
        own_marks=mark_texts,
        levels=numbers("--level", level_texts, 0.0, 100.0),
        separation=separation,
        weights=numbers("--weight", weight_texts, 0.0, 1000.0),
        seed=seed,
        samples=samples,
    )
    parameters = Parameters(lock, free, wide)
    with TerminalProgress(quiet or as_json) as progress:
        tuned = tune(look, out, goals, parameters=parameters, date=date, sheet=sheet, source=source, progress=progress)
    say_doubts(tuned.doubts, quiet)
    if as_json:
        tell_json({"file": str(out), **tuned.to_dict()})
    for line in tuned.lines:
        tell(quiet, as_json, line)
    tell(quiet, as_json, f"wrote {out}" + (f" and {sheet}" if sheet is not None else ""))
    if tuned.outcome.stopped:
        raise SystemExit(STOPPED)
    if not tuned.outcome.met or not tuned.outcome.passes:
        raise SystemExit(1)


def numbers(option: str, texts: tuple[str, ...], low: float, high: float) -> dict[str, float]:
    """``NAME=NUMBER`` texts as a table; one clear line for anything else."""
    found: dict[str, float] = {}
    for text in texts:
        name, equals, number = text.rpartition("=")
        try:
            value = float(number)
        except ValueError:
            value = math.nan
        if not equals or not name.strip() or not low <= value <= high:
            raise LookwrightError(f"{option} {text!r}", "cannot be read", f"NAME=NUMBER, {low:g} to {high:g}")
        found[name.strip()] = value
    return found
