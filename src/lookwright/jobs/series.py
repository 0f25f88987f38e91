"""Bringing the stills of a series to an anchor, and reporting how far they had drifted."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import numpy as np

from lookwright.errors import LookwrightError
from lookwright.files import new_folder, write_text
from lookwright.look.baking.viewing import View
from lookwright.lut.formats.cdl import write_cdl
from lookwright.outputs import Kind, Output
from lookwright.pictures.stills import read, read_marks
from lookwright.present.sheets.layouts import contact
from lookwright.present.sheets.report_html import reduced
from lookwright.present.sheets.series_page import worst_first, write_series_page
from lookwright.present.sheets.series_pictures import WIDTH, SeriesPictures
from lookwright.present.sheets.series_sheet import write_drift_plot
from lookwright.solve.series.shots import Shot, Span, Tolerance, corrections, run

from .doubts import Doubts
from .found import with_found
from .given import MARKS, SignalName
from .job import job
from .looks import load_look
from .pictures import save
from .progress import SILENT, Progress, ended, part
from .series_anchor import Anchored
from .series_clips import GradedClips
from .series_handing import Passed, hand_on
from .series_material import AS_TAGGED, CDLS_ALONE, NO_TIMELINE, ClipReading, Cut, Forms, Material, inside_of, material
from .stand_ins import Inside

MOST_FRAMES = 200
"""Frames on a contact sheet; a sheet of more is not looked at."""

FILES: dict[str, Kind] = {
    "series.ccc": "cdl",
    "drift.json": "json",
    "drift.png": "drawing",
    "before.jpg": "picture",
    "after.jpg": "picture",
    "series.html": "page",
}
"""What a run writes into its folder."""


@dataclass(frozen=True)
class Series:
    """What became of a series."""

    shots: tuple[Shot, ...]
    faults: tuple[LookwrightError, ...]
    """Stills that could not be read; the rest are done."""
    files: tuple[Path, ...]
    total: int
    """Shots, faulty ones included."""
    doubts: dict[str, list[str]] = field(default_factory=dict)
    """By name of a still: signs that it is not what the look is fed. A few of many stills are looked at."""
    inside: dict[str, Inside] = field(default_factory=dict)
    """By name of a shot that is a clip: what happens within it."""
    within: dict[str, list[str]] = field(default_factory=dict)
    """The same in words, where there is something to tell."""
    notes: tuple[str, ...] = ()
    """What is to be known of what was read and handed on, a sentence each."""
    clips: GradedClips | None = None
    """What came of grading the clips, where that was wanted."""
    anchor: Anchored | None = None
    """What the shots were brought to."""

    @property
    def every_fault(self) -> tuple[LookwrightError, ...]:
        """Shots that could not be read, and clips that could not be graded."""
        return (*self.faults, *(self.clips.faults if self.clips is not None else ()))

    @property
    def outside(self) -> int:
        """Shots that stay outside the tolerance, or could not be matched."""
        return sum(not s.inside for s in self.shots)


@job(out=lambda given: [Output(given["out"] / name, kind) for name, kind in FILES.items()])
def series(
    look: Path,
    stills: Sequence[Path],
    anchor: Path,
    out: Path,
    *,
    marks: Path | None = None,
    use_marks: bool = True,
    tolerance_stops: float = 0.1,
    tolerance_mired: float = 5.0,
    source: SignalName | None = None,
    anchor_span: Span | None = None,
    cut: Cut = NO_TIMELINE,
    reading: ClipReading = AS_TAGGED,
    forms: Forms = CDLS_ALONE,
    progress: Progress = SILENT,
) -> Series:
    """Bring every shot to an anchor with a small ASC CDL, hand it on, and report the drift in the folder ``out``.

    Parameters
    ----------
    stills, anchor
        Stills or clips in the look's source signal, which carries scene light; no ``stills`` where ``cut`` names a
        timeline. The anchor may be the name of a shot, or of a part of a clip whose light changes.
    marks
        None: ``marks.toml`` beside the anchor, where there is one.
    use_marks
        False: match by whole frames, even where there are marks.
    tolerance_stops, tolerance_mired
        How far exposure and balance may stay from the anchor.
    source
        In place of the look's own.
    anchor_span
        Of an anchor that is a clip, the part that is meant: seconds from its first frame.
    cut, reading, forms
        A timeline in place of ``stills``; how clips are read; what is handed on.

    Raises
    ------
    LookwrightError
        For a look or an anchor that cannot be used, or a folder that cannot be written.
    Cancelled
        Through ``progress``, while stills are matched; nothing is written then.
    """
    model, recipe = load_look(look, source=source)
    view = View(model)
    with (
        new_folder(out),
        material(stills, anchor, anchor_span, out, view.pipeline.source, cut, reading, forms, progress) as held,
    ):
        tolerance = Tolerance(tolerance_stops, tolerance_mired)
        shots, faults = _matched(held, view, marks, use_marks, tolerance, progress)
        if forms.steady:
            held.steady(view.pipeline.source)
        doubts = Doubts(held.plain_stills, view.pipeline.source).read()
        title = view.look.title or look.stem
        written = _write(out, title, view, shots, tolerance, held, [f.line() for f in (*held.faults, *faults)])
        passed = Passed()
        if shots:
            fixed = corrections(shots, view.pipeline.source)
            matched = {s.shot: not s.match.changed for s in shots}
            passed = hand_on(held, out, model, recipe, view, fixed, matched, cut, reading, forms, progress)
    return Series(
        tuple(shots),
        (*held.faults, *faults),
        (*written, *passed.files),
        held.count,
        held.doubts | doubts,
        held.inside,
        held.within(),
        (*held.notes, *passed.notes),
        passed.clips,
        held.anchor,
    )


def _matched(
    held: Material, view: View, marks: Path | None, use_marks: bool, tolerance: Tolerance, progress: Progress
) -> tuple[list[Shot], list[LookwrightError]]:
    """Every shot against the anchor, in order."""
    paths, signal = held.paths, view.pipeline.source
    file = marks if marks is not None else held.anchor.file.parent / MARKS
    table = read_marks(file) if use_marks and (marks is not None or file.is_file()) else {}
    if use_marks:
        table = with_found(table, [held.anchor.still, *paths], signal)
    shots: list[Shot] = []
    faults: list[LookwrightError] = []
    parts = partial(part, progress)
    still, workers = held.anchor.still, os.cpu_count() or 1
    with ended(run(paths, still, signal, table, tolerance, view, workers, parts, held.links)) as results:
        for result in results:
            if isinstance(result, LookwrightError):
                faults.append(result)
            else:
                shots.append(result)
    return held.named(shots), faults


def _write(
    out: Path, title: str, view: View, shots: list[Shot], tolerance: Tolerance, held: Material, faults: list[str]
) -> list[Path]:
    """The .ccc, the drift as data, plot and page, and contact sheets before and after, in order."""
    if not shots:
        return []
    files = [out / n for n in FILES]
    write_cdl(files[0], corrections(shots, view.pipeline.source))
    data = [s.to_dict() | inside_of(held, s.shot) for s in shots]
    write_text(files[1], json.dumps(data, indent=2, allow_nan=False) + "\n")
    write_drift_plot(files[2], shots, tolerance)
    pictures = _pictures(view, shots, tolerance, held)
    captions = {s.shot: s.shot + (" (not matched)" if s.match.changed else "") for s in shots}
    for name, matched, words in ((files[3], False, "graded as shot"), (files[4], True, "matched, then graded")):
        frames = pictures.frames(matched, captions)
        save(name, contact(frames, f"{view.look.title}: {words}", columns=4, width=400), view)
    write_series_page(
        files[5], title, shots, tolerance, files[2], pictures, held.within(), held.key_words(), faults, held.notes
    )
    return files


def _pictures(view: View, shots: list[Shot], tolerance: Tolerance, held: Material) -> SeriesPictures:
    """Each shot small, graded as shot and matched; of more than are looked at, those outside the tolerance first."""
    chosen = {s.shot for s in worst_first(shots, tolerance)[:MOST_FRAMES]}
    pictures = SeriesPictures(view.output)
    for shot in (s for s in shots if s.shot in chosen):
        pixels = reduced(read(held.stills[shot.shot]).pixels, WIDTH)
        matched = np.asarray(shot.expressed.cdl(np.asarray(pixels, np.float64)), np.float32)
        before, after = (view.graded(np.ascontiguousarray(p)) for p in (pixels, matched))
        pictures.add(shot.shot, before, after)
    return pictures
