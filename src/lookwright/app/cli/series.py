"""``lookwright series``."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import (
    json_option,
    load_look,
    look_argument,
    out_option,
    progress,
    quiet_option,
    say,
    stills_option,
    tell,
    tell_json,
)

if TYPE_CHECKING:
    from lookwright.errors import LookwrightError
    from lookwright.look.baking.viewing import View
    from lookwright.solve.series.shots import Shot, Tolerance


@click.command()
@look_argument
@stills_option()
@click.option(
    "--anchor",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The still that the others are brought to.",
)
@click.option(
    "--marks",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Marks of the stills. Default: marks.toml in the anchor's folder, where there is one.",
)
@click.option("--no-marks", is_flag=True, help="Match by whole frames, even where there are marks.")
@click.option(
    "--tolerance-stops",
    default=0.1,
    show_default=True,
    type=click.FloatRange(0.0, 4.0),
    help="How far exposure may stay from the anchor.",
)
@click.option(
    "--tolerance-mired",
    default=5.0,
    show_default=True,
    type=click.FloatRange(0.0, 100.0),
    help="How far balance may stay from the anchor.",
)
@out_option("Folder for the CDLs, the drift report and the contact sheets.")
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
    anchor: Path,
    marks: Path | None,
    no_marks: bool,
    tolerance_stops: float,
    tolerance_mired: float,
    out: Path,
    as_json: bool,
    quiet: bool,
) -> None:
    """Bring every still to an anchor still with a small ASC CDL, then LOOK for all; report the drift.

    Differences of exposure, balance and flare are corrected. A change of the light itself is not: it is named. Exit
    code 1 when a shot stays outside the tolerance or cannot be matched.
    """
    from lookwright.errors import LookwrightError
    from lookwright.files import new_folder
    from lookwright.look.baking.viewing import View
    from lookwright.pictures.stills import find_stills, read_marks
    from lookwright.solve.series.shots import Tolerance, run

    model, _ = load_look(look)
    view = View(model)
    paths = find_stills(stills)
    file = marks if marks is not None else anchor.parent / "marks.toml"
    table = read_marks(file) if not no_marks and (marks is not None or file.is_file()) else {}
    tolerance = Tolerance(tolerance_stops, tolerance_mired)
    shots: list[Shot] = []
    faults: list[LookwrightError] = []
    with new_folder(out), progress("matching", len(paths), quiet or as_json) as advance:
        for result in run(paths, anchor, view.pipeline.source, table, tolerance, view, os.cpu_count() or 1):
            if isinstance(result, LookwrightError):
                faults.append(result)
            else:
                shots.append(result)
            advance(1)
    written = _write(out, look, view, shots, tolerance)
    outside = [s for s in shots if not s.inside]
    for fault in faults:
        say(fault.line())
    if as_json:
        tell_json(_data(shots, faults, written))
    else:
        for shot in shots:
            tell(quiet, False, shot.sentence())
        count = len(shots) - len(outside)
        limits = f"{tolerance.stops:g} stop and {tolerance.mired:g} mired"
        tell(quiet, False, f"{count} of {len(paths)} within {limits}; report in {out}")
    if outside or faults:
        raise SystemExit(1)


def _data(shots: list[Shot], faults: list[LookwrightError], written: list[Path]) -> dict[str, Any]:
    return {
        "shots": [s.to_dict() for s in shots],
        "faults": [f.line() for f in faults],
        "files": [str(w) for w in written],
    }


def _write(out: Path, look: Path, view: View, shots: list[Shot], tolerance: Tolerance) -> list[Path]:
    """The .ccc, the drift as data, plot and page, and contact sheets before and after, in order."""
    import json

    from lookwright.files import write_text
    from lookwright.lut.formats.cdl import write_cdl
    from lookwright.present.sheets.series_page import write_series_page
    from lookwright.present.sheets.series_sheet import write_drift_plot
    from lookwright.solve.series.shots import corrections

    if not shots:
        return []
    files = [out / n for n in ("series.ccc", "drift.json", "drift.png", "before.jpg", "after.jpg", "series.html")]
    write_cdl(files[0], corrections(shots, view.pipeline.source))
    write_text(files[1], json.dumps([s.to_dict() for s in shots], indent=2, allow_nan=False) + "\n")
    write_drift_plot(files[2], shots, tolerance)
    for name, corrected in ((files[3], False), (files[4], True)):
        _sheet(name, view, shots, corrected)
    write_series_page(files[5], view.look.title or look.stem, shots, tolerance, files[2], files[3], files[4])
    return files


def _sheet(path: Path, view: View, shots: list[Shot], corrected: bool) -> None:
    import numpy as np

    from lookwright.pictures.stills import read
    from lookwright.present.sheets.layouts import Frame, contact

    from .pictures import save, thumbnail

    frames = []
    for shot in shots[:200]:  # a sheet of more is not looked at
        pixels = read(Path(shot.path)).pixels[::2, ::2]
        if corrected:
            pixels = np.asarray(shot.expressed.cdl(np.asarray(pixels, np.float64)), np.float32)
        caption = shot.shot + (" (not matched)" if shot.match.changed else "")
        frames.append(Frame(thumbnail(view.graded(np.ascontiguousarray(pixels)), 400), caption))
    words = "matched, then graded" if corrected else "graded as shot"
    save(path, contact(frames, f"{view.look.title}: {words}", columns=4, width=400), view)
