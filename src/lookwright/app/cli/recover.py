"""``lookwright recover``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import json_option, out_option, quiet_option, stills_option, tell, tell_json
from .signals import plain_signal_options
from .terminal import TerminalProgress, lines_for, show

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@out_option("The look file to write. Default: print the look.", required=False)
@click.option("--force", is_flag=True, help="Replace an existing file.")
@stills_option(required=False)
@plain_signal_options
@json_option
@quiet_option
def command(
    file: Path,
    out: Path | None,
    force: bool,
    stills: tuple[Path, ...],
    source: SignalName | None,
    output: SignalName | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Take the look out of a .cube that lookwright wrote, or find a recipe for the LUT of others.

    Of our own files the text comes back byte for byte; only a recipe of an earlier format is brought to the present
    one. The look is baked again and compared with the table: exit 1 where it does not match. A refined table is
    compared within the bound its header states; with the --stills it was refined on, to the last digit.

    For a LUT of others say with --source and --output what it is fed and gives. A recipe of few steps, with ten
    numbers at most, is looked for, and told in words with what it leaves; with --out that goes into a LUT beside the
    look, as its last step. Exit 1 where the recipe leaves more than 0.5 CIEDE2000 on natural colours in the mean.
    """
    if source is not None or output is not None:
        _explained(file, out, force, source, output, as_json, quiet)
        return
    from lookwright.jobs.recover import compare, take_out

    found = take_out(file, out, force)
    if out is None and not as_json and not quiet:
        click.echo(lines_for(found.text), nl=not found.text.endswith("\n"))
    outcome = compare(found, stills)
    if as_json:
        data = {"file": str(file), "look": found.text, "matches": outcome.matches, "words": outcome.words}
        tell_json(data | {"largest_difference": outcome.largest, "out": None if out is None else str(out)})
    else:
        if out is not None:
            tell(quiet, as_json, f"wrote {out}")
        # On stderr, because the look itself may go to stdout.
        if not quiet or not outcome.matches:
            show(f"{file}: {outcome.words}".replace("\n", " "), err=True)
    if not outcome.matches:
        raise SystemExit(1)


def _explained(
    file: Path,
    out: Path | None,
    force: bool,
    source: SignalName | None,
    output: SignalName | None,
    as_json: bool,
    quiet: bool,
) -> None:
    from lookwright.jobs.explain import explain

    with TerminalProgress(quiet or as_json) as progress:
        found = explain(file, source, output, out, force, progress)
    if as_json:
        tell_json(found.to_dict() | {"out": None if out is None else str(out)})
    else:
        if out is None and not quiet:
            click.echo(lines_for(found.text), nl=not found.text.endswith("\n"))
        if out is not None:
            tell(quiet, as_json, f"wrote {out}" + (f", {found.rest.name} beside it" if found.rest else ""))
        if not quiet or not found.good:
            show(f"{file}: {found.words()}".replace("\n", " "), err=True)
    if not found.good:
        raise SystemExit(1)
