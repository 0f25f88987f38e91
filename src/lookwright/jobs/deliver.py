"""The delivery folder: every form of a look, a sheet, a report, a card."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from lookwright.arrays import Array
from lookwright.assess.restraint.report import Report
from lookwright.assess.restraint.subject import subject_of_look
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import WrongUse
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.variants import Variant, at_strength
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.lattices.samples import sample_stills
from lookwright.outputs import Kind, Output
from lookwright.pictures.stills import Still, find_stills, read, read_once
from lookwright.present.delivery.build import Builder, clashes, kinds_of_files
from lookwright.present.delivery.cameras import CARD, Camera, agreements, recoded, together
from lookwright.present.delivery.folder import MANIFEST, building
from lookwright.present.delivery.made import Delivery, Item
from lookwright.present.delivery.pictures import card_pairs, chosen
from lookwright.present.sheets.layouts import Frame, contact

from .check import check_on_stills
from .given import SignalName, is_lut
from .job import declare, job, later
from .luts import load_look_or_lut, name_of
from .names import camera_name, plain_name
from .pictures import save, thumbnail
from .progress import SILENT, Progress, Within, part

PARTS = 11
"""Parts of the work, for a progress line; a look that has no log to log form has one less."""

OF_ALL: dict[str, Kind] = {CARD: "text", MANIFEST: "json"}
"""What a delivery for several cameras has beside their folders."""

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
    source: SignalName | Sequence[SignalName] | None = None,
    output: SignalName | None = None,
    correction: str | None = None,
    progress: Progress = SILENT,
) -> Delivery:
    """Make the delivery folder of a look or a LUT, or of a look for several cameras.

    Parameters
    ----------
    look
        A look, or a LUT file with ``source`` and ``output`` where it does not say them itself.
    stills
        Pictures, or folders of them, in the look's source signal, or the first ``source``: for refinement, the sheet
        and the check. For other cameras they are coded anew.
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
    source
        In place of the look's own. Of several, each gets a folder in ``out``, and how far their display LUTs agree on
        the same scene colours is told.

    Raises
    ------
    LookwrightError
        For anything that cannot be read, used or written, or that does not read back as it was written.
    Cancelled
        Through ``progress``; ``out`` is as it was.
    """
    several = () if source is None or isinstance(source, SignalName) else tuple(source)
    sources = several or (None if isinstance(source, Sequence) else source,)
    if len(sources) > 1 and is_lut(look):
        raise WrongUse("a LUT file is fed one signal: give one --source; only a look can be made for several")
    variants = _for_cameras([_variant(look, s, output, strength, correction) for s in sources])
    paths = find_stills(stills)
    label = plain_name(name or name_of(look, correction))
    if any(clashes(v.look, label) for v in variants.values()):  # a.clf comes along, so ours cannot be called that
        label += "-look"
    kinds = {
        "/".join(filter(None, (folder, file))): kind
        for folder, variant in variants.items()
        for file, kind in kinds_of_files(variant.look, label).items()
    }
    if len(variants) > 1:
        kinds |= OF_ALL
    declare([look, paths, marks], [Output(out / file, kind) for file, kind in kinds.items()])
    with building(out) as whole, read_once(paths):
        advance = part(progress, "delivering", PARTS * len(variants))
        samples = sample_stills(paths, progress=lambda done, total: progress.check())
        first = next(iter(variants.values())).look.source.signal()
        work = _Work(look.name, label, paths, marks, samples, first, refined, progress, advance)
        builders = {folder: _built(variant, whole / folder, work) for folder, variant in variants.items()}
        if len(builders) == 1:
            return next(iter(builders.values())).finish()
        return _together(builders, whole)


def _variant(
    look: Path,
    source: SignalName | None,
    output: SignalName | None,
    strength: float | None,
    correction: str | None,
) -> Variant:
    """The look fed one source; whether it can be used is found here."""
    model, text = load_look_or_lut(look, source, output, correction=correction)
    variant = Variant(model, text) if strength is None else at_strength(model, text, strength)
    compile_look(variant.look)
    return variant


def _for_cameras(variants: Sequence[Variant]) -> dict[str, Variant]:
    """By the folder of each camera; that of a single one is the delivery's own."""
    if len(variants) == 1:
        return {"": variants[0]}
    named: dict[str, Variant] = {}
    for variant in variants:
        signal = variant.look.source.signal()
        if signal.kind != "scene":
            raise WrongUse(f"{signal.encoding.name} carries display light: of several --source each is a camera's")
        if (folder := camera_name(signal)) in named:
            raise WrongUse(f"--source names {signal.describe()} twice")
        named[folder] = variant
    return named


@dataclass(frozen=True)
class _Work:
    """What is the same for every camera."""

    look: str
    label: str
    paths: Sequence[Path]
    marks: Path | None
    samples: Array
    stills: Signal
    """What the stills are."""
    refined: bool
    progress: Progress
    advance: Callable[[int], None]


def _built(variant: Variant, folder: Path, work: _Work) -> Builder:
    """Everything of one camera but its card and manifest."""
    folder.mkdir(exist_ok=True)
    told: list[str] = []

    def begin(text: str) -> None:
        told.append(text)
        work.advance(1)
        work.progress.tell(f"making {text}")

    source = variant.look.source.signal()

    def seen(still: Still) -> Still:
        return still if source == work.stills else replace(still, pixels=recoded(still.pixels, work.stills, source))

    samples = recoded(work.samples, work.stills, source)
    builder = Builder(variant, work.label, samples, folder, work.refined, begin, check=work.progress.check)
    on_card = [work.paths[i] for i in chosen(len(work.paths))]
    # The report does not hang on the LUTs: it is made beside them, in what their threads leave of the cores.
    with ThreadPoolExecutor(1) as pool:
        report = pool.submit(_check, variant.look, seen, folder, work)
        builder.copy_luts()
        builder.build(
            lambda view, into: _sheet(view, seen, into, work),
            lambda view: card_pairs(view, (seen(read(path)) for path in on_card)),
        )
        builder.check(lambda checked, into: report.result())
    builder.look_file()
    work.advance(PARTS - len(told))
    return builder


def _together(builders: dict[str, Builder], folder: Path) -> Delivery:
    """The cards, which tell how far the cameras agree, and the manifest of all."""
    cameras = [Camera(name, b.pipeline.source, b.shows) for name, b in builders.items()]
    agreed = agreements(cameras, lab_of(next(iter(builders.values())).pipeline.output))
    made = {
        name: builder.finish([a.words() for a in agreed if name in (a.first, a.second)])
        for name, builder in builders.items()
    }
    return together(made, agreed, folder)


def _sheet(view: View, seen: Callable[[Still], Still], folder: Path, work: _Work) -> Item:
    frames = []
    for path in work.paths[:MOST_FRAMES]:
        work.progress.check()
        frames.append(Frame(thumbnail(view.graded(seen(read(path)).pixels, no_nan=True)), path.stem))
    target = folder / f"{work.label}-sheet.jpg"
    save(target, contact(frames, f"{view.look.title or work.label}: {view.output.describe()}"), view)
    title = f"The stills through the 33-point display LUT, {view.output.describe()}"
    return Item(target.name, title, "To look at: what the files give when they are fed rightly.")


def _check(look: Look, seen: Callable[[Still], Still], folder: Path, work: _Work) -> tuple[Report, Sequence[Item]]:
    subject = replace(subject_of_look(look), name=work.look)
    page = folder / "restraint.html"
    report = check_on_stills(subject, work.paths, work.marks, page, Within(work.progress), work.stills, seen)
    item = Item("restraint.html", "What the look does to skin, greys, tone and noise", f"To read: {report.summary()}.")
    return report, [item]
