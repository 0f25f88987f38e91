"""``lookwright recover``."""

from __future__ import annotations

from pathlib import Path

import click

from .options import json_option, out_option, quiet_option, stills_option, tell, tell_json
from .terminal import lines_for, show


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@out_option("The look file to write. Default: print the look.", required=False)
@click.option("--force", is_flag=True, help="Replace an existing file.")
@stills_option(required=False)
@json_option
@quiet_option
def command(file: Path, out: Path | None, force: bool, stills: tuple[Path, ...], as_json: bool, quiet: bool) -> None:
    """Take the look out of a .cube that lookwright wrote, and check that the table is still the look's.

    The text comes back byte for byte; only a recipe of an earlier format is brought to the present one. The look is
    baked again and compared with the table: exit 1 where it does not match. A refined table is compared within the
    bound its header states; with the --stills it was refined on, to the last digit.
    """
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
