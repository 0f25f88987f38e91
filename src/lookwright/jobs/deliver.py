"""The delivery folder: every form of a look, a sheet, a report, a card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from lookwright.assess.restraint.report import Report
from lookwright.assess.restraint.subject import subject_of_look
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.variants import Variant, at_strength
from lookwright.lut.lattices.samples import sample_stills
from lookwright.outputs import Output
from lookwright.pictures.stills import find_stills, read
from lookwright.present.delivery.build import Builder, clashes, kinds_of_files
from lookwright.present.delivery.folder import building
from lookwright.present.delivery.made import Delivery, Item
from lookwright.present.sheets.layouts import Frame, contact

from .check import check_on_stills
from .given import SignalName
from .job import declare, job, later
from .luts import load_look_or_lut, name_of, plain_name
from .pictures import save, thumbnail
from .progress import SILENT, Progress, Within, part

PARTS = 11
"""Parts of the work, for a progress line; a look that has no log to log form has one less."""

MOST_FRAMES = 60
"""Frames on the preview sheet; a longer one is not looked at."""


@job(out=later)
def deliver(
    look: Path,
    stills: Sequence[Path],
    out: Path,
    *,
    marks: Path | None = None,
    name: str | None = None,
    refined: bool = True,
    strength: float | None = None,
    source: SignalName | None = None,
    output: SignalName | None = None,
    correction: str | None = None,
    progress: Progress = SILENT,
) -> Delivery:
    """Make the delivery folder of a look or a LUT.

    Parameters
    ----------
    look
        A look, or a LUT file with ``source`` and ``output`` where it does not say them itself.
    stills
        Pictures, or folders of them, in the look's source signal: for refinement, the sheet and the check.
    out
        The folder; it appears whole. Its files are replaced when it exists.
    marks
        For the check; None: ``marks.toml`` beside each still, where there is one.
    name
        First part of the file names; None: that of ``look``.
    refined
        False: sample the lattices plainly, which is faster.
    correction
        Id of one correction in an ASC CDL collection.

    Raises
    ------
    LookwrightError
        For anything that cannot be read, used or written, or that does not read back as it was written.
    Cancelled
        Through ``progress``; ``out`` is as it was.
    """
    model, text = load_look_or_lut(look, source, output, correction=correction)
    variant = Variant(model, text) if strength is None else at_strength(model, text, strength)
    compile_look(variant.look)
    paths = find_stills(stills)
    label = plain_name(name or name_of(look, correction))
    if clashes(variant.look, label):  # a.clf comes along, so ours cannot be called that
        label += "-look"
    declare(
        [look, paths, marks], [Output(out / file, kind) for file, kind in kinds_of_files(variant.look, label).items()]
    )
    with building(out) as folder:
        advance = part(progress, "delivering", PARTS)
        told: list[str] = []

        def begin(text: str) -> None:
            told.append(text)
            advance(1)

        samples = sample_stills(paths, progress=lambda done, total: progress.check())
        builder = Builder(variant, label, samples, folder, refined, begin, check=progress.check)
        builder.copy_luts()
        builder.build()
        builder.sheet(lambda view, into: _sheet(view, label, paths, into, progress))
        builder.check(lambda checked, into: _check(checked, look.name, paths, marks, into, progress))
        builder.look_file()
        made = builder.finish()
        advance(PARTS - len(told))
        return made


def _sheet(view: View, label: str, paths: Sequence[Path], folder: Path, progress: Progress) -> Item:
    frames = []
    for path in paths[:MOST_FRAMES]:
        progress.check()
        frames.append(Frame(thumbnail(view.graded(read(path).pixels, no_nan=True)), path.stem))
    target = folder / f"{label}-sheet.jpg"
    save(target, contact(frames, f"{view.look.title or label}: {view.output.describe()}"), view)
    title = f"The stills through the 33-point display LUT, {view.output.describe()}"
    return Item(target.name, title, "To look at: what the files give when they are fed rightly.")


def _check(
    look: Look, name: str, paths: Sequence[Path], marks: Path | None, folder: Path, progress: Progress
) -> tuple[Report, Sequence[Item]]:
    subject = replace(subject_of_look(look), name=name)
    report = check_on_stills(subject, paths, marks, folder / "restraint.html", Within(progress))
    item = Item("restraint.html", "What the look does to skin, greys, tone and noise", f"To read: {report.summary()}.")
    return report, [item]
