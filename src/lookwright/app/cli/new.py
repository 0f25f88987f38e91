"""``lookwright new``."""

from __future__ import annotations

from pathlib import Path

import click

from .options import carried, quiet_option, tell


@click.command()
@click.argument("file", type=click.Path(path_type=Path), callback=carried)
@click.option("--source", default="ACEScct", show_default=True, help="Encoding the LUT will be fed with.")
@click.option("--output", default="BT.1886", show_default=True, help="Encoding it will give.")
@click.option("--title", default=None, help="Title of the look. Default: the file's name.")
@click.option("--force", is_flag=True, help="Replace FILE if it exists.")
@quiet_option
def command(file: Path, source: str, output: str, title: str | None, force: bool, quiet: bool) -> None:
    """Write a look to start from into FILE (.toml), with a remark on every line.

    An output that carries scene light, such as ACEScct, gives a log-to-log look without a rendering.
    """
    from lookwright.jobs.new import new

    new(file, source=source, output=output, title=title, force=force)
    tell(quiet, False, f"wrote {file}: edit it, then 'lookwright preview {file} --stills DIR --out previews'")
