"""Taking reference frames apart: zones, roles, ratios; marks and a lighting card; a still against a reference."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.breakdown.against import Against, against
from lookwright.assess.breakdown.breakdown import Breakdown, break_down
from lookwright.assess.breakdown.faces import can_find_faces, find_faces
from lookwright.assess.breakdown.on_camera import OnCamera, on_camera
from lookwright.assess.measure.plausible import findings
from lookwright.assess.measure.stepped import Steps, Unit, steps_of
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import WrongUse
from lookwright.files import new_folder, write_text
from lookwright.look.baking.viewing import View
from lookwright.names import portable, unique
from lookwright.outputs import Output
from lookwright.pictures.stills import find_stills, read
from lookwright.present.sheets.lighting_card import Card, write_lighting_card

from .broken_marks import marks_text
from .given import SignalName
from .job import declare, job, later
from .looks import load_look, signal_of
from .progress import SILENT, Progress, part
from .small_frames import seen

REFERENCE = "BT.1886"
"""What a reference frame is taken for where nothing is said: a finished picture on a video display."""


@dataclass(frozen=True)
class Taken:
    """One frame, taken apart."""

    still: Path
    signal: Signal
    breakdown: Breakdown
    camera: Signal
    readings: tuple[OnCamera, ...]
    """What each zone must read on the camera, in the order of the zones."""
    doubts: tuple[str, ...]
    """Signs that the frame is not the signal it was said to be."""
    notes: tuple[str, ...]
    """What the figures stand for."""
    against: Against | None = None
    files: tuple[Path, ...] = field(default=())

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        data = {
            "frame": str(self.still),
            "encoding": self.signal.describe(),
            "shown": self.breakdown.frame.shown.describe(),
            "camera": self.camera.describe(),
            "doubts": list(self.doubts),
            "notes": list(self.notes),
            **self.breakdown.to_dict(),
            "files": [str(f) for f in self.files],
        }
        for zone, reading in zip(data["zones"], self.readings, strict=True):
            zone["on_camera"] = {"code": reading.code, "log": reading.log, "monitor": reading.monitor}
        if self.against is not None:
            data["against"] = self.against.to_dict()
        return data


@dataclass(frozen=True)
class _Asked:
    signal: Signal
    view: View | None
    camera: Signal
    steps: Steps
    off: frozenset[int]
    faces: bool


@job(out=later)
def breakdown(
    frames: Sequence[Path],
    *,
    signal: SignalName | None = None,
    look: Path | None = None,
    mine: Path | None = None,
    mine_signal: SignalName | None = None,
    camera: SignalName | None = None,
    faces: bool = True,
    unit: Unit = "percent",
    bounds: Sequence[float] = (),
    off: Sequence[int] = (),
    out: Path | None = None,
    progress: Progress = SILENT,
) -> list[Taken]:
    """Take frames apart into zones with levels, light, warmth and roles.

    Parameters
    ----------
    signal
        What the frames are; None: the source of ``look``, else BT.1886.
    look
        With frames in its source signal: what they are seen through. With finished frames in its output signal: the
        grade that is taken off them first, so that their light is that of the scene.
    mine
        A still to compare with the first frame, part by part.
    mine_signal
        What that still is; None: the source of ``look``, else as the frames.
    camera
        The signal of the camera on set, for the card; None: the source of ``look``, else the frames' own or ACEScct.
    faces
        Look for faces, where the extra is installed.
    unit, bounds, off
        The steps of the exposure map: what they count, their borders (none: the usual ones), and steps switched off,
        by their number from 1.
    out
        Folder for ``marks.toml`` and a lighting card (PDF and PNG) of each frame.

    Raises
    ------
    LookwrightError
        For a frame or a look that cannot be used; cards written so far are whole, and stay.
    Cancelled
        Through ``progress``; the same.
    """
    asked = _asked(signal, look, camera, unit, bounds, off, faces)
    paths = find_stills(frames)
    if mine is not None and len(paths) != 1:
        raise WrongUse("--mine compares one still with one reference frame")
    cards = _cards(paths, out)
    written = [Output(p, "drawing") for pair in cards for p in pair]
    if out is not None:
        written.append(Output(out / "marks.toml", "marks"))
    declare([paths, look, mine], written)
    other = None if mine is None else _taken(mine, _for_mine(asked, mine_signal))
    taken: list[Taken] = []
    with new_folder(out) if out is not None else nullcontext():
        advance = part(progress, "breaking down", len(paths))
        for path, files in zip(paths, cards, strict=True):
            one = _taken(path, asked)
            if other is not None:
                one = replace(one, against=against(one.breakdown, other.breakdown))
            if files:
                write_lighting_card(files, _card(one, asked))
                one = replace(one, files=files)
            taken.append(one)
            advance(1)
        if out is not None:
            write_text(out / "marks.toml", marks_text([(t.still.stem, t.breakdown) for t in taken]))
    return taken


def _asked(
    name: SignalName | None,
    look: Path | None,
    camera: SignalName | None,
    unit: Unit,
    bounds: Sequence[float],
    off: Sequence[int],
    faces: bool,
) -> _Asked:
    view = None if look is None else View(load_look(look)[0])
    signal = signal_of(name) or (view.pipeline.source if view is not None else Signal.named(REFERENCE))
    steps = steps_of(unit, bounds)
    if any(not 1 <= n <= steps.count for n in off):
        raise WrongUse(f"steps are numbered 1 to {steps.count}")
    chosen = signal_of(camera)
    if chosen is None:
        chosen = view.pipeline.source if view is not None else signal if signal.kind == "scene" else None
    if chosen is None or chosen.kind != "scene":
        if camera is not None:
            raise WrongUse("--camera names a camera's log signal, and this one carries display light")
        chosen = Signal.named("ACEScct")
    if view is not None and signal.kind == "scene" and signal != view.pipeline.source:
        raise WrongUse(f"the look is fed {view.pipeline.source.describe()}, and the frames are {signal.describe()}")
    return _Asked(signal, view, chosen, steps, frozenset(n - 1 for n in off), faces)


def _for_mine(asked: _Asked, name: SignalName | None) -> _Asked:
    chosen = signal_of(name) or (asked.view.pipeline.source if asked.view is not None else asked.signal)
    return replace(asked, signal=chosen)


def _cards(paths: Sequence[Path], out: Path | None) -> list[tuple[Path, ...]]:
    """Where the card of each frame goes."""
    taken: set[str] = set()
    names = [unique(portable(path.stem), taken) for path in paths]
    return [() if out is None else (out / f"{n}-card.pdf", out / f"{n}-card.png") for n in names]


def _taken(path: Path, asked: _Asked) -> Taken:
    still = read(path)
    small = seen(still.pixels, asked.signal, asked.view)
    looked = asked.faces and can_find_faces()
    found = find_faces(small.frame.picture) if looked else None
    apart = break_down(small.frame, found)
    view = asked.view if asked.view is not None and asked.view.pipeline.source == asked.camera else None
    graded: Callable[[Array], Array] | None = None
    if view is not None:
        through = view.graded

        def graded(signal: Array) -> Array:
            return np.asarray(through(np.asarray(signal, np.float32)), np.float64)

    shown = small.frame.shown if view is None else view.output
    readings = tuple(on_camera(z, asked.camera, graded, shown) for z in apart.zones)
    notes = [*small.notes]
    if asked.faces and not looked:
        notes.append("Faces were not looked for: the extra 'faces' is not installed.")
    doubts = tuple(d.sentence for d in findings(still.pixels, asked.signal))
    return Taken(path, asked.signal, apart, asked.camera, readings, doubts, tuple(notes))


def _card(taken: Taken, asked: _Asked) -> Card:
    through = "the plain rendering" if asked.view is None else asked.view.look.title or "the look"
    return Card(
        taken.still.name,
        taken.breakdown,
        taken.readings,
        asked.camera,
        through,
        asked.steps,
        asked.off,
        taken.notes,
        taken.against,
    )
