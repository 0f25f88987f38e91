"""Reading levels, light and ratios from stills."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.measure.compare import Comparison, compare
from lookwright.assess.measure.levels import Level, SignalLevel, display_light, level, levels, signal_level
from lookwright.assess.measure.plausible import Finding
from lookwright.assess.measure.poles import Poles, poles, thinned
from lookwright.assess.measure.ratios import Ratio, ratio
from lookwright.assess.measure.skin import SkinReading, read_skin, skin_doubt
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import MarksError, WrongUse, did_you_mean
from lookwright.files import new_folder
from lookwright.look.baking.viewing import View
from lookwright.memory import Turns
from lookwright.names import Names
from lookwright.outputs import Output
from lookwright.pictures.batch import side_by_side
from lookwright.pictures.stills import Mark, Still, find_stills, marks_for, parse_mark, read, region, size_of
from lookwright.present.sheets.measure_marks import Numbers
from lookwright.present.sheets.measure_sheet import write_measure_sheet

from .doubts import doubts_about
from .found import found_marks, only_found
from .given import SignalName
from .job import declare, job, later
from .looks import signal_of
from .luts import load_look_or_lut
from .progress import SILENT, Progress, ended, part
from .stills import Marks

_BYTES_A_PIXEL = 100
"""At most, while a still is measured: itself, what the look makes of it, and what is taken from both; with a sheet."""


@dataclass(frozen=True)
class Reading:
    """One still, measured."""

    still: Path
    signal: Signal
    """What the still carries."""
    shown: Signal
    """What its levels are read on: the same, or what the look makes of it."""
    look: str | None
    """Title of that look (it may be empty); None where there is none."""
    frame: Level
    frame_shown: SignalLevel
    """Its light is that of ``frame``: with a look it is known, not estimated from the picture."""
    recorded: dict[str, Level]
    """By name of a mark."""
    viewed: dict[str, Level]
    doubts: tuple[Finding, ...]
    """Signs that the still is not the signal it was said to be."""
    found: bool
    """Whether the marks were found on faces, because none were drawn."""
    skin_doubts: tuple[str, ...]
    """Marks on skin that do not look like it."""
    ratios: tuple[Ratio, ...]
    poles: Poles
    skin: tuple[SkinReading, ...]
    comparison: Comparison | None
    """With the reference, where there is one."""
    sheet: Path | None

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        data: dict[str, Any] = {
            "still": str(self.still),
            "encoding": self.signal.describe(),
            "frame": self.frame.to_dict(),
            "doubts": [d.to_dict() for d in self.doubts],
            "found_marks": self.found,
            "skin_doubts": list(self.skin_doubts),
            "marks": {
                n: {"recorded": self.recorded[n].to_dict(), "shown": self.viewed[n].to_dict()} for n in self.recorded
            },
            "ratios": [r.to_dict() for r in self.ratios],
            "poles": self.poles.to_dict(),
            "skin": [s.to_dict() for s in self.skin],
        }
        if self.comparison is not None:
            data["comparison"] = self.comparison.to_dict()
        if self.sheet is not None:
            data["sheet"] = str(self.sheet)
        return data


@dataclass(frozen=True)
class _Asked:
    """What is the same for every still."""

    signal: Signal
    view: View | None
    marks: Marks
    own: tuple[Mark, ...]
    """Marks on every still."""
    ratios: tuple[str, ...]
    reference: Still | None
    reference_signal: Signal


@job(out=later)
def measure(
    stills: Sequence[Path],
    *,
    signal: SignalName | None = None,
    look: Path | None = None,
    source: SignalName | None = None,
    output: SignalName | None = None,
    correction: str | None = None,
    marks: Path | None = None,
    own_marks: Sequence[str] = (),
    ratios: Sequence[str] = (),
    reference: Path | None = None,
    reference_encoding: str = "BT.1886",
    out: Path | None = None,
    progress: Progress = SILENT,
) -> list[Reading]:
    """Measure stills at their marks and over the whole frame.

    Parameters
    ----------
    signal, look
        What the stills are, or a look or LUT that says so and makes the picture on which levels are read: one of
        the two.
    source
        What the stills are, in place of the look's own source; of a LUT file as ``look`` what it is fed.
    output, correction
        For a LUT file as ``look``: what it gives, and which one of a collection.
    marks
        None: ``marks.toml`` beside each still, where there is one. A still without any mark is looked through for
        faces, where the extra ``faces`` is installed.
    own_marks
        ``NAME=X,Y,W,H``: a box on every still, as fractions of the frame.
    ratios
        ``A/B``: marks to compare; none: every key with every fill.
    reference
        A frame to compare with, mark by mark.
    out
        Folder for one sheet per still.

    Raises
    ------
    LookwrightError
        For a still, a mark or a look that cannot be used; sheets written so far are whole, and stay.
    Cancelled
        Through ``progress``; the same.
    """
    view = _view(look, source, output, correction)
    asked = _asked(signal, view, source, marks, own_marks, ratios, reference, reference_encoding)
    paths = find_stills(stills)
    sheets = _sheets(paths, out)
    declare([paths, look, marks, reference], [Output(sheet, "drawing") for sheet in sheets if sheet is not None])
    readings = []
    with new_folder(out) if out is not None else nullcontext():
        advance = part(progress, "measuring", len(paths))
        turns = Turns()
        if view is not None:
            view.ready()  # before several threads ask for it at once

        def one(still: tuple[Path, Path | None]) -> Reading:
            width, height = size_of(still[0])
            with turns.of(width * height * _BYTES_A_PIXEL):
                return _one(still[0], asked, still[1])

        with ended(side_by_side(zip(paths, sheets, strict=True), one)) as measured:
            for reading in measured:
                readings.append(reading)
                advance(1)
    return readings


def _view(
    look: Path | None, source: SignalName | None, output: SignalName | None, correction: str | None
) -> View | None:
    if look is not None:
        return View(load_look_or_lut(look, source, output, None, True, correction)[0])
    if output is not None or correction is not None:
        raise WrongUse("--output and --correction are of the LUT that --look names; stills have --encoding")
    return None


def _asked(
    name: SignalName | None,
    view: View | None,
    source: SignalName | None,
    marks: Path | None,
    own_marks: Sequence[str],
    ratios: Sequence[str],
    reference: Path | None,
    reference_encoding: str,
) -> _Asked:
    signal = None
    if view is not None:
        if name is not None:
            raise WrongUse("give --encoding or --look, not both: a look says what it is fed, or --source does")
        signal = view.pipeline.source
    else:
        if name is not None and source is not None:
            raise WrongUse("--encoding and --source both say what the stills are: give one")
        signal = signal_of(name or source)
    if signal is None:
        raise WrongUse("say what the stills are: --encoding NAME, or --look LOOK")
    return _Asked(
        signal,
        view,
        Marks(marks),
        tuple(parse_mark(t) for t in own_marks),
        tuple(ratios),
        read(reference) if reference is not None else None,
        Signal.named(reference_encoding),
    )


def _sheets(paths: Sequence[Path], out: Path | None) -> list[Path | None]:
    """Where the sheet of each still goes; None where none was asked for."""
    names = Names()
    return [None if out is None else out / names.of(path.stem, "-measure.png") for path in paths]


def _one(path: Path, asked: _Asked, sheet: Path | None) -> Reading:
    still, signal, view = read(path), asked.signal, asked.view
    marks = [*asked.marks.of(path), *asked.own] or found_marks(still, signal)
    seen = view.graded(still.pixels) if view is not None else still.pixels
    shown = view.output if view is not None else signal
    recorded = levels(still.pixels, signal, marks)
    viewed = levels(seen, shown, marks) if view is not None else recorded
    compared = tuple(_ratio(a, b, recorded, viewed, view is not None) for a, b in _pairs(marks, asked.ratios))
    light = _display_light(thinned(still.pixels), signal, thinned(seen), shown)
    reading = Reading(
        path,
        signal,
        shown,
        None if view is None else view.look.title,
        level(still.pixels, signal, "whole frame"),
        signal_level(seen, shown, "whole frame"),
        recorded,
        viewed,
        tuple(doubts_about(still, signal)),
        only_found(marks),
        tuple(filter(None, (skin_doubt(region(still.pixels, m), signal, m.name) for m in marks if m.role == "skin"))),
        compared,
        poles(light),
        tuple(read_skin(region(seen, m), shown, m.name) for m in marks if m.role == "skin"),
        _comparison(path, asked, recorded),
        sheet,
    )
    if sheet is not None:
        doubts = [*(d.sentence for d in reading.doubts), *reading.skin_doubts]
        _write_sheet(sheet, still, asked, seen, marks, Numbers(viewed, recorded, compared), doubts)
    return reading


def _comparison(path: Path, asked: _Asked, recorded: dict[str, Level]) -> Comparison | None:
    other = asked.reference
    if other is None:
        return None
    marks = marks_for(asked.marks.table(path), other.path) or list(asked.own)
    return compare(levels(other.pixels, asked.reference_signal, marks), recorded)


def _pairs(marks: list[Mark], texts: Sequence[str]) -> list[tuple[str, str]]:
    names = [m.name for m in marks]
    if not texts:
        keys, fills = ([m.name for m in marks if m.role == role] for role in ("key", "fill"))
        return [(a, b) for a in keys for b in fills]
    pairs = []
    for text in texts:
        a, slash, b = (part.strip() for part in text.partition("/"))
        if not slash:
            raise MarksError("--ratio", repr(text), "two marks as A/B, such as 'face key/face fill'")
        for name in (a, b):
            if name not in names:
                raise MarksError("--ratio", f"no mark {name!r} on this still", hint=did_you_mean(name, names))
        pairs.append((a, b))
    return pairs


def _ratio(a: str, b: str, recorded: dict[str, Level], viewed: dict[str, Level], graded: bool) -> Ratio:
    if graded:
        return ratio(recorded[a], recorded[b], viewed[a], viewed[b])
    return ratio(recorded[a], recorded[b])


def _display_light(pixels: NDArray[np.float32], signal: Signal, seen: NDArray[np.float32], shown: Signal) -> Array:
    """Display light for the poles: of the shown picture, or of the plain rendering of a scene signal."""
    return shown.to_light(seen) if shown.kind == "display" else display_light(pixels, signal)


def _write_sheet(
    path: Path,
    still: Still,
    asked: _Asked,
    seen: NDArray[np.float32],
    marks: list[Mark],
    numbers: Numbers,
    notes: list[str],
) -> None:
    view = asked.view
    if view is not None:
        picture, caption = seen, view.look.title or "Graded"
    else:
        light = display_light(still.pixels, asked.signal)
        picture, caption = Signal.named("BT.1886").from_light(light).astype("float32"), "Plain rendering"
    write_measure_sheet(
        path,
        still.pixels,
        asked.signal,
        picture=picture,
        title=still.path.name,
        picture_caption=caption,
        marks=marks,
        numbers=numbers,
        notes=notes[:3],
        scopes_pixels=seen if view is not None else None,
        scopes_signal=view.output if view is not None else None,
    )
