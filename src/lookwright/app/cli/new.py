"""``lookwright new``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import carried, quiet_option, tell
from .signals import new_options

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName


@click.command()
@click.argument("file", type=click.Path(path_type=Path), callback=carried)
@click.option(
    "--from",
    "model",
    type=click.Path(path_type=Path),
    metavar="LOOK",
    help="A look to take all from, remarks too, but what is said here.",
)
@new_options
@click.option("--title", default=None, help="Title of the look. Default: the file's name, or that of --from.")
@click.option("--force", is_flag=True, help="Replace FILE if it exists.")
@quiet_option
def command(
    file: Path,
    model: Path | None,
    source: SignalName | None,
    output: SignalName | None,
    title: str | None,
    force: bool,
    quiet: bool,
) -> None:
    """Write a look to start from into FILE (.toml), with a remark on every line.

    An output that carries scene light, such as ACEScct, gives a log-to-log look without a rendering.
    """
    from lookwright.jobs.new import new

    new(file, model=model, source=source, output=output, title=title, force=force)
    tell(quiet, False, f"wrote {file}: edit it, then 'lookwright preview {file} --stills DIR --out previews'")
