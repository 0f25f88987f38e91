"""``lookwright demo``."""

from __future__ import annotations

from pathlib import Path

import click

from lookwright.errors import LookwrightError

from .options import out_option, quiet_option, tell
from .terminal import TerminalProgress

FEW = ("everyday-daylight", "night-workshop", "first-frame")
"""A subtle look, a medium and a strong one."""


@click.command()
@out_option("Folder for the results; 'demo' when left out.", required=False)
@click.option("--all", "every", is_flag=True, help="Every look that comes with the program, not only three.")
@quiet_option
def command(out: Path | None, every: bool, quiet: bool) -> None:
    """Make the whole job once from the looks and stills that come with the program: bake looks, and preview them.

    Makes a 33-point .cube, a contact sheet and before/after pairs for a subtle look, a medium and a strong one, and
    says where the looks and the stills are, to be copied and changed.
    """
    from lookwright.installed import samples
    from lookwright.jobs.demo import Befores, demo
    from lookwright.pictures.stills import find_stills, read_once

    given = samples()
    looks = sorted(given.looks.glob("*.toml"))
    if not looks or not given.stills.is_dir():
        raise LookwrightError(
            "demo", f"the looks and stills are not in {given.looks.parent}", hint="install lookwright again"
        )
    befores = Befores()
    with read_once(find_stills([given.stills])):  # every look is shown twice on the same stills
        for path in looks if every else [p for p in looks if p.stem in FEW] or looks:
            with TerminalProgress(quiet) as progress:
                shown = demo(path, [given.stills], out or Path("demo"), progress, befores)
            tell(quiet, False, f"wrote {shown.cube}")
            tell(quiet, False, f"wrote {shown.sheet} and {len(shown.pairs)} before/after pairs")
    tell(quiet, False, f"the looks are in {given.looks}, the stills in {given.stills}")
