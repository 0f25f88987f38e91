"""Measuring what a look or a LUT does, with stills and a report where they are asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from lookwright.assess.restraint import check as restraint
from lookwright.assess.restraint.limits import check_limits
from lookwright.assess.restraint.report import Report
from lookwright.assess.restraint.subject import Subject, subject_of_look, subject_of_lut
from lookwright.assess.restraint.words import report_lines
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError, WrongUse
from lookwright.files import check_target
from lookwright.look.recipe.model import Look
from lookwright.pictures.stills import CodedStill, Mark, Still, find_stills, read_once

from .doubts import Doubts
from .given import SignalName, is_lut
from .job import job
from .looks import load_look
from .luts import NOT_FOR_LUTS, signals_of_lut
from .progress import SILENT, Progress, ended, part

if TYPE_CHECKING:
    from lookwright.present.sheets.report_html import Pictures

AHEAD = 8
"""Stills whose decoding begins before the look is read; the others follow as they are asked for."""

__all__ = ["check", "check_look", "check_on_stills", "report_lines"]


@job(html="page")
def check(
    look: Path,
    *,
    stills: Sequence[Path] = (),
    marks: Path | None = None,
    source: SignalName | None = None,
    output: SignalName | None = None,
    correction: str | None = None,
    html: Path | None = None,
    strength: float | None = None,
    progress: Progress = SILENT,
) -> Report:
    """Measure what a look or a LUT does to skin, greys, tone, noise and gradients.

    Parameters
    ----------
    look
        A look, or a LUT file with ``source`` and ``output`` where it does not say them itself.
    source
        In place of a look's own.
    stills
        Pictures, or folders of them, in the look's source signal; with the role ``skin`` a mark on them is judged.
    marks
        None: ``marks.toml`` beside each still, where there is one.
    correction
        Id of one correction in an ASC CDL collection.
    html
        Also write the report there, with before and after of each still.

    Returns
    -------
    Report
        Findings in order of harm; ``worst`` is ``fail`` when a limit is passed. A still that cannot be read is one of
        its ``faults``, and the rest are done.

    Raises
    ------
    LookwrightError
        For a file that cannot be read or used.
    Cancelled
        Through ``progress``; nothing is written.
    """
    paths = find_stills(stills) if stills else []
    if marks is not None and not paths:
        raise WrongUse("--marks belongs to --stills")
    with read_once(paths[:AHEAD]):
        subject = _subject(look, source, output, strength, correction)
        if html is not None:
            check_target(html)
        return check_on_stills(subject, paths, marks, html, progress)


def check_on_stills(
    subject: Subject,
    paths: Sequence[Path],
    marks: Path | None,
    html: Path | None,
    progress: Progress,
    recorded: Signal | None = None,
    through: Callable[[Still], Still] | None = None,
) -> Report:
    """Every measure of one subject, on these stills too; ``html`` comes last.

    Where the stills are ``recorded`` in another signal than the subject is fed, ``through`` codes them anew; faces and
    doubts are looked for in them as they were read.
    """
    pictures = None
    if html is not None:
        from lookwright.present.sheets.report_html import Pictures, write_report  # a check without a page does without

        pictures = Pictures(subject)
    report = _on(subject, paths, marks, pictures, progress, recorded, through) if paths else restraint.check(subject)
    if html is not None and pictures is not None:
        progress.check()
        write_report(html, report, pictures)
    return report


def _on(
    subject: Subject,
    paths: Sequence[Path],
    marks: Path | None,
    pictures: Pictures | None,
    progress: Progress,
    recorded: Signal | None,
    through: Callable[[Still], Still] | None,
) -> Report:
    """The report on these stills; ``pictures`` is given each."""
    from .stills import marked_stills  # what finds faces takes longer to load than a measure

    advance = part(progress, "checking", len(paths))
    signal = recorded or subject.source
    doubts = Doubts(paths, signal)

    def fed(still: Still | CodedStill) -> Still | CodedStill:
        doubts(still)
        return still if through is None or isinstance(still, CodedStill) else through(still)

    def seen(still: Still | CodedStill) -> None:
        if pictures is not None:
            pictures.add(still)
        advance(1)

    faults: list[PictureError] = []
    # Measures take some of the pixels, a page and another coding of the source take all.
    coded = through is None and pictures is None
    with ended(marked_stills(paths, marks, faults, signal, coded)) as marked:
        report = restraint.check(subject, ((fed(still), own) for still, own in marked), seen)
    if faults and len(faults) == len(paths):
        raise faults[0]
    return replace(report, doubts=doubts.sorted(), faults=tuple(fault.line() for fault in faults))


def check_look(
    look: Look,
    stills: Iterable[tuple[Still, Sequence[Mark]]] = (),
    progress: Progress = SILENT,
    advised: bool = True,
) -> Report:
    """The measures of a look at hand, on stills at hand; ``advised`` as :func:`~lookwright.assess.restraint.check` has
    it."""
    subject, at_hand = subject_of_look(look), list(stills)
    doubts = Doubts([still.path for still, _ in at_hand], subject.source)

    def seen(still: Still | CodedStill) -> None:
        doubts(still)
        progress.check()

    return replace(restraint.check(subject, at_hand, seen, advised), doubts=doubts.sorted())


def _subject(
    path: Path,
    source: SignalName | None,
    output: SignalName | None,
    strength: float | None,
    correction: str | None,
) -> Subject:
    if is_lut(path) and strength is not None:
        raise WrongUse(NOT_FOR_LUTS)
    signals = signals_of_lut(path, source, output, correction)
    if is_lut(path):
        return subject_of_lut(path, *signals, correction=correction)
    look, _ = load_look(path, strength, source)
    check_limits(look.limits, str(path))
    return replace(subject_of_look(look), name=path.name)
