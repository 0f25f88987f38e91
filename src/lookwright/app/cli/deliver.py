"""``lookwright deliver``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import (
    json_option,
    look_or_lut,
    out_option,
    quiet_option,
    stills_option,
    strength_option,
    tell,
    tell_json,
)
from .signals import cameras_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName


@click.command()
@look_or_lut("LOOK_OR_LUT")
@stills_option()
@out_option("The delivery folder. Its files are replaced when it exists.")
@click.option(
    "--marks",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Marks of the stills, for the check. Default: marks.toml in their folder, where there is one.",
)
@click.option("--name", help="First part of the file names. Default: that of LOOK.")
@click.option("--plain-sampling", is_flag=True, help="Sample the lattices plainly, without refinement: faster.")
@strength_option
@cameras_options
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
    out: Path,
    marks: Path | None,
    name: str | None,
    plain_sampling: bool,
    strength: float | None,
    sources: tuple[SignalName, ...],
    output: SignalName | None,
    correction: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Make the delivery folder of LOOK_OR_LUT: every form of it, a card, and a manifest.

    LUTs for the display (33 and 65 points), log to log where the look allows, for a monitor with legal range, as CLF,
    ASC CDL (where it says the same), Hald CLUT and OpenColorIO configuration; a preview sheet, the report on restraint,
    and CARD.md and CARD.html, which say what each file must be fed and where it goes. Every LUT is read again by
    OpenColorIO before the folder takes its place.

    With several --source a look gets such a folder for each camera, and is said how far their LUTs agree.
    """
    from lookwright.jobs.deliver import deliver

    with TerminalProgress(quiet or as_json) as progress:
        made = deliver(
            look,
            stills,
            out,
            marks=marks,
            name=name,
            refined=not plain_sampling,
            strength=strength,
            source=sources,
            output=output,
            correction=correction,
            progress=progress,
        )
    if as_json:
        tell_json(made.manifest)
        return
    for item in made.items:
        tell(quiet, as_json, f"wrote {out / item.file}: {item.title}")
    for what, why in made.missing:
        tell(quiet, as_json, f"no {what}: {why}")
    tell(quiet, as_json, f"check for harm: {made.restraint}")
    for words in made.agreement:
        tell(quiet, as_json, words)
    card = out / ("CARD.md" if made.agreement else "CARD.html")
    tell(quiet, as_json, f"{card} says what each is fed, gives, and where it goes")
