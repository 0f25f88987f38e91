"""``lookwright deliver``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import json_option, out_option, progress, quiet_option, stills_option, strength_option, tell, tell_json
from .signals import Said, load_look_or_lut, signal_options

if TYPE_CHECKING:
    from lookwright.assess.restraint.report import Report
    from lookwright.look.baking.viewing import View
    from lookwright.look.recipe.model import Look
    from lookwright.present.delivery.build import Item

STEPS = 11
"""Parts of the work, for the progress line."""

MOST_FRAMES = 60
"""Frames on the preview sheet; a longer one is not looked at."""


@click.command()
@click.argument("look", type=click.Path(path_type=Path), metavar="LOOK_OR_LUT")
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
@signal_options
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
    said: Said,
    as_json: bool,
    quiet: bool,
) -> None:
    """Make the delivery folder of LOOK_OR_LUT: every form of it, a card, and a manifest.

    LUTs for the display (33 and 65 points), log to log where the look allows, for a monitor with legal range, as CLF,
    ASC CDL (where it says the same), Hald CLUT and OpenColorIO configuration; a preview sheet, the report on restraint,
    and CARD.md and CARD.html, which say what each file must be fed and where it goes. Every LUT is read again by
    OpenColorIO before the folder takes its place.
    """
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.variants import Variant, at_strength
    from lookwright.lut.lattices.samples import sample_stills
    from lookwright.pictures.stills import find_stills
    from lookwright.present.delivery.build import Builder
    from lookwright.present.delivery.folder import building

    model, text = load_look_or_lut(look, said)
    variant = Variant(model, text) if strength is None else at_strength(model, text, strength)
    compile_look(variant.look)
    paths = find_stills(stills)
    label = plain_name(name or look.stem)
    hidden = quiet or as_json
    with building(out) as folder, progress("delivering", STEPS, hidden) as advance:
        builder = Builder(variant, label, sample_stills(paths), folder, not plain_sampling, lambda text: advance(1))
        builder.copy_luts()
        builder.build()
        builder.sheet(lambda view, into: _sheet(view, label, paths, into))
        builder.check(lambda checked, into: _check(checked, look.name, paths, marks, into))
        builder.look_file()
        made = builder.finish()
    if as_json:
        tell_json(made.manifest)
        return
    for item in made.items:
        tell(quiet, as_json, f"wrote {out / item.file}: {item.title}")
    for what, why in made.missing:
        tell(quiet, as_json, f"no {what}: {why}")
    tell(quiet, as_json, f"check for harm: {made.restraint}")
    tell(quiet, as_json, f"{out / 'CARD.html'} says what each is fed, gives, and where it goes")


def plain_name(text: str) -> str:
    """A file name that every reader takes: letters, digits, dot, hyphen and underscore."""
    from lookwright.lut.formats.cube import ascii_text

    kept = "".join(c if c.isalnum() or c in "._-" else "-" for c in ascii_text(text)).strip("-.")
    return "-".join(p for p in kept.split("-") if p)[:100] or "look"


def _sheet(view: View, label: str, paths: list[Path], folder: Path) -> Item:
    from lookwright.pictures.stills import read
    from lookwright.present.delivery.build import Item
    from lookwright.present.sheets.canvas import fitted, from_image, to_image
    from lookwright.present.sheets.layouts import Frame, contact

    from .pictures import save

    frames = []
    for path in paths[:MOST_FRAMES]:
        graded = view.graded(read(path).pixels, no_nan=True)
        frames.append(Frame(from_image(fitted(to_image(graded), 640)), path.stem))
    target = folder / f"{label}-sheet.jpg"
    save(target, contact(frames, f"{view.look.title or label}: {view.output.describe()}"), view)
    title = f"The stills through the 33-point display LUT, {view.output.describe()}"
    return Item(target.name, title, "To look at: what the files give when they are fed rightly.")


def _check(look: Look, name: str, paths: list[Path], marks: Path | None, folder: Path) -> tuple[Report, Sequence[Item]]:
    from dataclasses import replace

    from lookwright.assess.restraint.check import check
    from lookwright.assess.restraint.subject import subject_of_look
    from lookwright.pictures.stills import Still
    from lookwright.present.delivery.build import Item
    from lookwright.present.sheets.report_html import Pictures, write_report

    from .check import _stills

    subject = replace(subject_of_look(look), name=name)
    pictures = Pictures(subject)

    def seen(still: Still) -> None:
        pictures.add(still)

    report: Any = check(subject, _stills(paths, marks), seen)
    write_report(folder / "restraint.html", report, pictures)
    item = Item("restraint.html", "What the look does to skin, greys, tone and noise", f"To read: {report.summary()}.")
    return report, [item]
