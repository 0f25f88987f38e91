"""``lookwright bake``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from .accuracy import accuracy_data, accuracy_lines
from .map_options import bounds_of, map_options, numbers_of
from .options import (
    json_option,
    look_argument,
    out_option,
    quiet_option,
    size_option,
    stills_option,
    strength_option,
    tell,
    tell_json,
)
from .signals import source_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.bake import Baked
    from lookwright.jobs.given import SignalName


@click.command()
@look_argument
@out_option("The .cube file to write. Default: the look's name (and --source), beside it.", required=False)
@size_option
@strength_option
@source_options
@click.option(
    "--refine",
    "refined",
    is_flag=True,
    help="Choose the values so that lookups between the points err less, most of all on the stills.",
)
@stills_option(required=False)
@click.option(
    "--exposure-map",
    "as_map",
    is_flag=True,
    help="Bake the exposure map in steps instead, for a monitor or a player; best with --size 65.",
)
@click.option(
    "--over",
    type=click.Choice(["log", "picture"]),
    default="log",
    show_default=True,
    help="What the map is fed: the look's source signal, or the finished picture.",
)
@map_options("stops")
@json_option
@quiet_option
def command(
    look: Path,
    out: Path | None,
    size: int,
    strength: float | None,
    source: SignalName | None,
    refined: bool,
    stills: tuple[Path, ...],
    as_map: bool,
    over: Literal["log", "picture"],
    steps: Literal["stops", "percent"],
    bounds: str | None,
    off: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Bake LOOK into a .cube file that says what to feed it and carries its own recipe.

    With --exposure-map the file shows exposure in coloured steps instead; its header states the steps and where each
    border truly lies. With --refine or --stills it also says how far lookups in the file are from the exact look.
    """
    if as_map:
        if refined or stills or strength is not None:
            raise click.UsageError("--refine, --stills and --strength belong to a look, not to --exposure-map")
        _bake_map(look, out, size, over, steps, bounds, off, as_json, quiet)
        return
    if (over, steps, bounds, off) != ("log", "stops", None, None):
        raise click.UsageError("--over, --steps, --bounds and --off belong to --exposure-map")
    from lookwright.jobs.bake import USUAL_SIZES, bake

    with TerminalProgress(quiet or as_json) as progress:
        made = bake(
            look, out, size=size, strength=strength, source=source, refined=refined, stills=stills, progress=progress
        )
    if as_json:
        tell_json(_data(made))
    tell(quiet, as_json, f"wrote {made.file} ({size} points): feed it {made.feed}; it gives {made.gives}")
    if size not in USUAL_SIZES:
        tell(quiet, as_json, f"  sizes that every reader takes are {', '.join(map(str, USUAL_SIZES))}")
    if made.accuracy:
        for line in accuracy_lines(made.accuracy, made.refined.plain_report if made.refined else None):
            tell(quiet, as_json, line)
    if made.refined:
        worst = f"{made.refined.worst:.2f} (bound {made.refined.bound:g})"
        tell(quiet, as_json, f"  nowhere measured worse than plain by more than {worst}")


def _bake_map(
    look: Path,
    out: Path | None,
    size: int,
    over: Literal["log", "picture"],
    steps: Literal["stops", "percent"],
    bounds: str | None,
    off: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """The map instead of the look."""
    from lookwright.jobs.exposure_map import exposure_map

    with TerminalProgress(quiet or as_json) as progress:
        made = exposure_map(
            look,
            out,
            size=size,
            over=over,
            unit=steps,
            bounds=bounds_of(bounds),
            off=numbers_of(off),
            progress=progress,
        )
    unit = "stop" if steps == "stops" else "%"
    if as_json:
        borders = [{"asked": b.asked, "lies": b.lies, "code": b.code} for b in made.borders]
        tell_json({"file": str(made.file), "size": size, "feed": made.feed, "unit": steps, "borders": borders})
    tell(quiet, as_json, f"wrote {made.file} ({size} points): feed it {made.feed}; it gives the exposure map in steps")
    tell(
        quiet,
        as_json,
        f"  borders lie within {made.worst:.2f} {unit} of where they were asked for; the header states each",
    )


def _data(made: Baked) -> dict[str, Any]:
    data: dict[str, Any] = {
        "file": str(made.file),
        "size": made.size,
        "feed": made.feed,
        "gives": made.gives,
        "recipe_sha256": made.recipe_sha256,
    }
    if made.accuracy:
        data["accuracy"] = accuracy_data(made.accuracy)
    if made.refined:
        data["refined"] = {
            "bound": made.refined.bound,
            "worst": round(made.refined.worst, 4),
            "seed": made.refined.seed,
            "samples": made.refined.samples,
            "fingerprint": made.refined.fingerprint,
            "hint": made.refined.hint,
            "plain_accuracy": accuracy_data(made.refined.plain_report),
        }
    return data
