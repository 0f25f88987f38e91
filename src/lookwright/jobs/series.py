"""Bringing the stills of a series to an anchor, and reporting how far they had drifted."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from lookwright.errors import LookwrightError
from lookwright.files import new_folder, write_text
from lookwright.look.baking.viewing import View
from lookwright.lut.formats.cdl import write_cdl
from lookwright.outputs import Kind, Output
from lookwright.pictures.stills import find_stills, read, read_marks
from lookwright.present.sheets.layouts import Frame, contact
from lookwright.present.sheets.series_page import write_series_page
from lookwright.present.sheets.series_sheet import write_drift_plot
from lookwright.solve.series.shots import Shot, Tolerance, corrections, run

from .doubts import Doubts
from .found import with_found
from .given import MARKS, SignalName
from .job import job
from .looks import load_look
from .pictures import save, thumbnail
from .progress import SILENT, Progress, ended, part

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
    """Stills, faulty ones included."""
    doubts: dict[str, list[str]] = field(default_factory=dict)
    """By name of a still: signs that it is not what the look is fed. A few of many stills are looked at."""

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
    progress: Progress = SILENT,
) -> Series:
    """Bring every still to an anchor still with a small ASC CDL, and report the drift in the folder ``out``.

    Parameters
    ----------
    stills, anchor
        In the look's source signal, which carries scene light.
    marks
        None: ``marks.toml`` beside the anchor, where there is one.
    use_marks
        False: match by whole frames, even where there are marks.
    tolerance_stops, tolerance_mired
        How far exposure and balance may stay from the anchor.
    source
        In place of the look's own.

    Raises
    ------
    LookwrightError
        For a look or an anchor that cannot be used, or a folder that cannot be written.
    Cancelled
        Through ``progress``, while stills are matched; nothing is written then.
    """
    model, _ = load_look(look, source=source)
    view = View(model)
    paths = find_stills(stills)
    file = marks if marks is not None else anchor.parent / MARKS
    table = read_marks(file) if use_marks and (marks is not None or file.is_file()) else {}
    if use_marks:
        table = with_found(table, [anchor, *paths], view.pipeline.source)
    tolerance = Tolerance(tolerance_stops, tolerance_mired)
    shots: list[Shot] = []
    faults: list[LookwrightError] = []
    workers = os.cpu_count() or 1
    with new_folder(out), ended(run(paths, anchor, view.pipeline.source, table, tolerance, view, workers)) as results:
        advance = part(progress, "matching", len(paths))
        for result in results:
            if isinstance(result, LookwrightError):
                faults.append(result)
            else:
                shots.append(result)
            advance(1)
    doubts = Doubts(dict.fromkeys([anchor, *paths]), view.pipeline.source).read()
    written = _write(out, view.look.title or look.stem, view, shots, tolerance)
    return Series(tuple(shots), tuple(faults), tuple(written), len(paths), doubts)


def _write(out: Path, title: str, view: View, shots: list[Shot], tolerance: Tolerance) -> list[Path]:
    """The .ccc, the drift as data, plot and page, and contact sheets before and after, in order."""
    if not shots:
        return []
    files = [out / n for n in FILES]
    write_cdl(files[0], corrections(shots, view.pipeline.source))
    write_text(files[1], json.dumps([s.to_dict() for s in shots], indent=2, allow_nan=False) + "\n")
    write_drift_plot(files[2], shots, tolerance)
    for name, corrected in ((files[3], False), (files[4], True)):
        _sheet(name, view, shots, corrected)
    write_series_page(files[5], title, shots, tolerance, files[2], files[3], files[4])
    return files


def _sheet(path: Path, view: View, shots: list[Shot], corrected: bool) -> None:
    frames = []
    for shot in shots[:MOST_FRAMES]:
        pixels = read(Path(shot.path)).pixels[::2, ::2]
        if corrected:
            pixels = np.asarray(shot.expressed.cdl(np.asarray(pixels, np.float64)), np.float32)
        caption = shot.shot + (" (not matched)" if shot.match.changed else "")
        frames.append(Frame(thumbnail(view.graded(np.ascontiguousarray(pixels)), 400), caption))
    words = "matched, then graded" if corrected else "graded as shot"
    save(path, contact(frames, f"{view.look.title}: {words}", columns=4, width=400), view)
