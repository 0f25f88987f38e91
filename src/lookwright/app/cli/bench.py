"""``lookwright bench``."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lookwright.errors import LookwrightError

from .clip_options import matrix_option, range_option
from .options import look_argument, stills_option
from .signals import source_options
from .terminal import show

if TYPE_CHECKING:
    from lookwright.colour.spaces.ranges import Range
    from lookwright.jobs.given import SignalName


@click.command()
@look_argument
@stills_option()
@source_options
@click.option(
    "--marks",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Marks of the stills. Default: marks.toml in the folder of the first still.",
)
@click.option(
    "--reference",
    "references",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PICTURE",
    help="A finished picture to tune toward, in the look's output encoding. May be repeated.",
)
@click.option("--reference-encoding", default="", metavar="NAME", help="What the references are, if not that.")
@click.option(
    "--clip",
    "clips",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="CLIP",
    help="A clip, .mov or .mp4, to play through the look, some five seconds at a time. May be repeated.",
)
@matrix_option
@range_option
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Where the page's delivery goes. Default: beside the look, named after it.",
)
@click.option("--port", default=0, type=click.IntRange(0, 65535), help="Port on this machine. Default: any free one.")
@click.option("--no-open", is_flag=True, help="Only print the address; do not open the browser.")
def command(
    look: Path,
    stills: tuple[Path, ...],
    source: SignalName | None,
    marks: Path | None,
    references: tuple[Path, ...],
    reference_encoding: str,
    clips: tuple[Path, ...],
    matrix: str | None,
    range_: Range | None,
    out: Path | None,
    port: int,
    no_open: bool,
) -> None:
    """Shape LOOK by eye in the browser, with the measurements beside it.

    A page served by this program to this machine only. Nothing is sent anywhere; only the look, its stills and marks
    can be reached, and only with the address printed here. Ctrl-C, or closing the terminal, ends it.
    """
    from importlib.util import find_spec

    from lookwright.installed import how_to_get

    missing = [name for name in ("starlette", "uvicorn") if find_spec(name) is None]
    if missing:
        raise LookwrightError(
            "bench",
            f"{' and '.join(missing)} not installed",
            hint=how_to_get("bench"),
        )
    from lookwright.app.bench.bench import Given
    from lookwright.app.bench.server import serve

    given = Given.of(look, stills, marks, out, references, reference_encoding, source, clips, matrix, range_)

    def tell(address: str, offers: bool) -> None:
        click.echo(f"bench: {address}")
        if offers:
            click.echo("Work of an earlier session was not saved; the page offers it.")
        click.echo("Ctrl-C ends it.")

    kept = serve(given, port, not no_open, tell)
    with contextlib.suppress(OSError):  # the terminal was closed
        for name in kept:
            show(f"What was not saved is in {name}; the bench offers it at its next start.")
