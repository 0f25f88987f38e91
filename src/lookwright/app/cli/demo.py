"""``lookwright demo``."""

from __future__ import annotations

from pathlib import Path

import click

from lookwright.errors import LookwrightError

from .options import out_option, quiet_option, tell
from .terminal import TerminalProgress


@click.command()
@out_option("Folder for the results; 'demo' when left out.", required=False)
@quiet_option
def command(out: Path | None, quiet: bool) -> None:
    """Make the whole job once from the sample stills: bake every look of looks/, and preview it.

    Run it in a checkout of the project. Makes a 33-point .cube, a contact sheet and before/after pairs for each look.
    """
    from lookwright.jobs.demo import demo

    root = next((p for p in (Path.cwd(), Path(__file__).parents[4]) if (p / "sample_images").is_dir()), None)
    looks = sorted((root / "looks").glob("*.toml")) if root else []
    if root is None or not looks:
        raise LookwrightError("demo", "the sample stills and looks are not here", hint="run it in a checkout")
    stills = [root / "sample_images"]
    for path in looks:
        with TerminalProgress(quiet) as progress:
            shown = demo(path, stills, out or Path("demo"), progress)
        tell(quiet, False, f"wrote {shown.cube}")
        tell(quiet, False, f"wrote {shown.sheet} and {len(shown.pairs)} before/after pairs")
