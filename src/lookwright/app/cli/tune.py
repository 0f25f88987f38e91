"""``lookwright tune``."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import json_option, load_look, look_argument, out_option, quiet_option, stills_option, tell, tell_json

if TYPE_CHECKING:
    from lookwright.solve.tune.gather import Wishes

STOPPED = 130
"""Exit code after Ctrl-C, as shells give it; the best so far has been written."""


@click.command()
@look_argument
@stills_option(required=False)
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
    "one role are compared with each other.",
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
    help="A parameter that may move although the recipe or its declaration locks it.",
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
    metavar="FILE",
    help="Also draw before, after and reference with plots of tone and colour (.png).",
)
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
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
    determine stays where it was, and is named; so is a parameter that ends on a bound.

    Exit 1 when a level target is not met or 'check' fails on the result, 130 after Ctrl-C; the new look is written in
    each of these cases.
    """
    from lookwright.files import check_target, write_text
    from lookwright.pictures.stills import find_stills, parse_mark, read_marks
    from lookwright.solve.tune.free import free_parameters
    from lookwright.solve.tune.gather import Wishes
    from lookwright.solve.tune.recipe import tuned_text
    from lookwright.solve.tune.run import tune
    from lookwright.solve.tune.words import as_data, in_words, note

    model, text = load_look(look)
    wishes = Wishes(
        stills=tuple(find_stills(stills)) if stills else (),
        pairs=pairs,
        references=references,
        reference_encoding=reference_encoding or "",
        marks=read_marks(marks) if marks is not None else {},
        own_marks=tuple(parse_mark(t) for t in mark_texts),
        levels=numbers("--level", level_texts, 0.0, 100.0),
        separation=separation,
        weights=numbers("--weight", weight_texts, 0.0, 1000.0),
        seed=seed,
        samples=samples,
        pictures=sheet is not None,
    )
    if separation is not None and math.isnan(separation):
        raise click.UsageError("--separation: not a number of degrees")
    check_target(out)
    if sheet is not None:
        check_target(sheet)
    told, close = progress_line(quiet or as_json)
    try:
        outcome = tune(model, wishes, lock, free, wide, told)
    finally:
        close()
    lines = note(outcome, date or today(), goal_words(wishes))
    new = tuned_text(text, model, outcome.look, free_parameters(model, lock, free, wide), lines)
    write_text(out, new)
    if sheet is not None:
        from lookwright.present.sheets.tune_sheet import write_tune_sheet

        write_tune_sheet(sheet, outcome, reference_encoding or "")
    if as_json:
        tell_json({"file": str(out), **as_data(outcome), "words": in_words(outcome)})
    tell(quiet, as_json, in_words(outcome))
    tell(quiet, as_json, f"wrote {out}" + (f" and {sheet}" if sheet is not None else ""))
    if outcome.stopped:
        raise SystemExit(STOPPED)
    if not outcome.met or not outcome.passes:
        raise SystemExit(1)


def numbers(option: str, texts: tuple[str, ...], low: float, high: float) -> dict[str, float]:
    """``NAME=NUMBER`` texts as a table; one clear line for anything else."""
    from lookwright.errors import LookwrightError

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


def today() -> str:
    """Today's date in ISO form."""
    import datetime

    return datetime.date.today().isoformat()


def goal_words(wishes: Wishes) -> list[str]:
    """What was asked for, for the note in the recipe."""
    words = []
    if wishes.references:
        words.append("reference " + ", ".join(p.name for p in wishes.references))
    if wishes.pairs:
        words.append("pairs " + ", ".join(f"{a.name} and {b.name}" for a, b in wishes.pairs))
    if wishes.levels or any(m.level is not None for ms in wishes.marks.values() for m in ms):
        words.append("levels on marks")
    if wishes.separation is not None:
        words.append(f"a separation of {wishes.separation:g} degrees")
    if wishes.stills:
        words[-1] += f", on {len(wishes.stills)} still{'s' if len(wishes.stills) > 1 else ''}"
    weights = ", ".join(f"{n} {w:g}" for n, w in wishes.weights.items())
    return [*words, f"weights {weights}"] if weights else words


def progress_line(silent: bool) -> tuple[Callable[[str, float], None], Callable[[], None]]:
    """A line on a terminal's stderr that is written over, and what ends it."""
    if silent or not sys.stderr.isatty():
        return (lambda what, cost: None), (lambda: None)

    def told(what: str, cost: float) -> None:
        click.echo(f"\r\033[K{what}" + (f", distance {math.sqrt(cost):.2f}" if cost > 0 else ""), nl=False, err=True)

    return told, lambda: click.echo("\r\033[K", nl=False, err=True)
