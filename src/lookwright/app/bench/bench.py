"""Everything of one bench together: recipe, stills, marks, bakes, checks and jobs."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lookwright.assess.measure.skin_line import SKIN_LINE_DEG
from lookwright.colour.luma import luma_weights
from lookwright.errors import LookwrightError
from lookwright.jobs.found import found_marks
from lookwright.jobs.given import MARKS, SignalName
from lookwright.jobs.job import declare
from lookwright.jobs.looks import load_look, signal_of
from lookwright.outputs import Output
from lookwright.pictures.stills import find_stills

from . import describe
from .bake_queue import REST, BakeQueue
from .checking import chosen
from .codes import workers
from .hub import Hub
from .mark_table import MarkTable
from .pictures import MAP_STOPS, Pictures, Region, map_colours
from .session import Session
from .shown import screen_for, shown_look
from .unsaved import Keeper, Unsaved
from .workers import Helper

WORTH_AHEAD = 100_000
"""Pixels of a view from which on this takes more than a few milliseconds."""


@dataclass(frozen=True)
class Given:
    """What the command line was given; the page can reach nothing else."""

    look: Path
    stills: tuple[Path, ...]
    marks: Path | None
    out: Path
    references: tuple[Path, ...] = ()
    reference_encoding: str = ""
    source: SignalName | None = None
    """In place of the look's own; the recipe begins with it, not saved."""

    @classmethod
    def of(
        cls,
        look: Path,
        stills: Sequence[Path],
        marks: Path | None = None,
        out: Path | None = None,
        references: Sequence[Path] = (),
        reference_encoding: str = "",
        source: SignalName | None = None,
    ) -> Given:
        """With folders looked through, and what was not said in its usual place.

        Raises :class:`PictureError`, or :class:`NameLookupError` for a source that is not known.
        """
        signal_of(source)  # a fault in its name is one for the terminal
        paths = find_stills(stills)
        marks = marks if marks is not None else paths[0].parent / MARKS
        saved = [Output(look, "look", instead_of=look), Output(marks, "marks", instead_of=marks)]
        declare([look, marks, paths, list(references)], saved)
        return cls(
            look,
            tuple(paths),
            marks,
            out if out is not None else look.with_name(f"{look.stem}-delivery"),
            tuple(find_stills(references)) if references else (),
            reference_encoding,
            source,
        )


class Bench:
    """One session. Close it to end its threads and processes."""

    def __init__(self, given: Given) -> None:
        self.given = given
        self.hub = Hub()
        self.session = Session(given.look, self._edited)
        self.pool = workers()
        self.pictures = Pictures(given.stills, self.pool)
        self.marks = MarkTable(given.marks, given.stills, self.pictures)
        self.bakes = BakeQueue(self.pool)
        self.checker = Helper(self._checked)
        self.worker = Helper(self._worked)
        self._job: dict[str, Any] = {"state": "none"}
        self._tuned: tuple[int, str] | None = None
        self._latest: dict[tuple[str, str], int] = {}
        self._counter = 0
        self._lock = threading.Lock()
        self._timer: threading.Timer | None = None
        self._closing = threading.Event()
        self._unsaved = Unsaved(given.look, self.session.saved, self.session.unsaved)
        self._unsaved_marks = Unsaved(given.marks, self.marks.saved, self.marks.unsaved) if given.marks else None
        self.keeper = Keeper([u for u in (self._unsaved, self._unsaved_marks) if u is not None])
        if given.source is not None:
            look, text = load_look(given.look, source=given.source)
            self.session.replace(text, f"source {look.source.encoding}")
        self.pictures.still(0)  # a fault in the first still is one for the terminal
        threading.Thread(target=self._watch, name="bench-watch", daemon=True).start()
        self.check_soon()

    # -- state ------------------------------------------------------------------------------------------------------

    def state(self) -> dict[str, Any]:
        """Everything that the page shows, except pictures."""
        look = self.session.look
        shown, _ = shown_look(look)
        signal = screen_for(shown.output.signal()).signal
        weights, words = luma_weights(signal)
        bt2020 = signal.primaries.name == "BT.2020"
        extra = {
            "stills": [{"name": p.name} for p in self.given.stills],
            "changed_on_disk": self.session.changed_on_disk(),
            "scopes": {
                "luma": [float(w) for w in weights],
                "luma_words": words,
                "kr": 0.2627 if bt2020 else 0.2126,
                "kb": 0.0593 if bt2020 else 0.0722,
                "skin_deg": SKIN_LINE_DEG,
                "signal": signal.describe(),
            },
            "marks_file": self.given.marks.name if self.given.marks else None,
            "marks_dirty": self.marks.dirty,
            "out": self.given.out.name,
            "references": [p.name for p in self.given.references],
            "job": self._job,
            "text": self.session.text,
            "unsaved": self.keeper.offered(),
            "not_kept": self.keeper.fault(),
        }
        return describe.state(self.session, extra)

    def still_size(self, index: int) -> dict[str, Any]:
        """Size and marks of a still."""
        still = self.pictures.still(index)
        self.marks.fill(index, lambda: found_marks(still, self.session.look.source.signal()))
        found = self.marks.measured(index, self.marks.of(index), self.session.look)
        marks = [{"name": m.name, "box": list(m.box), "level": m.level, "role": m.role} for m in self.marks.of(index)]
        return {"width": still.width, "height": still.height, "depth": still.depth, "marks": marks, "measured": found}

    def legend(self) -> dict[str, Any]:
        """Colours and ends of the exposure map."""
        return {"colours": map_colours(), "stops": MAP_STOPS}

    def look_ahead(self, index: int, region: Region) -> None:
        """Find what a large view reads of a lattice before the first slider moves."""
        if region.width * region.height < WORTH_AHEAD or self._closing.is_set():
            return
        with contextlib.suppress(RuntimeError):  # closed in the meantime
            self.pool.submit(self.pictures.seen(index, region).places, REST)

    # -- newest wins ------------------------------------------------------------------------------------------------

    def turn(self, client: str, what: str) -> Any:
        """A function that tells whether the same client has asked for the same thing again since."""
        with self._lock:
            self._counter += 1
            mine = self._latest[client, what] = self._counter
            if len(self._latest) > 1000:  # clients come and go
                self._latest = {(client, what): mine}
        return lambda: self._latest.get((client, what)) != mine or self._closing.is_set()

    # -- background work --------------------------------------------------------------------------------------------

    def check_soon(self, seconds: float = 0.35) -> None:
        """Measure restraint when the recipe has been left alone for a moment."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            self._timer = threading.Timer(seconds, self._check)
            self._timer.daemon = True
            self._timer.start()

    def _check(self) -> None:
        _, moment, (revision, _), *_ = self.session.snapshot()
        stills = chosen(list(self.given.stills))
        self.hub.tell("checking", {"revision": revision})
        self.checker.ask({"work": "check", "revision": revision, "text": moment.text, **self._files(stills)})

    def _files(self, stills: Sequence[Path]) -> dict[str, Any]:
        marks = {n: [(m.name, m.box, m.level, m.role) for m in several] for n, several in self.marks.by_name().items()}
        folder = str(self.given.look.parent)
        return {"folder": folder, "stills": [str(p) for p in stills], "marks": marks}

    def _checked(self, message: dict[str, Any]) -> None:
        if "done" in message:
            self.hub.tell("restraint", message["done"])
        elif "fault" in message:
            self.hub.tell("restraint", {"summary": "cannot be measured", "fault": message["fault"], "findings": []})

    def tune(self, goals: dict[str, Any]) -> None:
        """Start a tuning; raises :class:`LookwrightError` when something is at work already."""
        _, moment, (_, looks), *_ = self.session.snapshot()
        asked = {
            "work": "tune",
            "revision": looks,
            "text": moment.text,
            "goals": goals,
            "references": [str(p) for p in self.given.references],
            "reference_encoding": self.given.reference_encoding,
            **self._files(self.given.stills),
        }
        self._start("tune", asked)

    def deliver(self, plain_sampling: bool = False) -> None:
        """Start a delivery of the saved look."""
        if self.session.dirty or self.session.changed_on_disk():
            raise LookwrightError(self.given.look.name, "has changes that are not saved", hint="save it first")
        asked = {
            "work": "deliver",
            "plain_sampling": plain_sampling,
            "look": str(self.given.look),
            "out": str(self.given.out),
            "stills": [str(p) for p in self.given.stills],
            "marks": str(self.given.marks) if self.given.marks and self.given.marks.is_file() else None,
        }
        self._start("deliver", asked)

    def _start(self, kind: str, asked: dict[str, Any]) -> None:
        with self._lock:
            if self._job["state"] == "working":
                raise LookwrightError(kind, f"a {self._job['kind']} is at work", hint="wait for it, or stop it")
            self._tuned = None
            self._job = {"state": "working", "kind": kind, "progress": "starting"}
        self.hub.tell("job", self._job)
        self.worker.ask(asked)

    def _worked(self, message: dict[str, Any]) -> None:
        with self._lock:
            kind = self._job.get("kind", "")
            if "progress" in message:
                self._job = {**self._job, "progress": message["progress"], "cost": message.get("cost")}
            elif "fault" in message:
                self._job = {"state": "failed", "kind": kind, "fault": message["fault"]}
            elif "done" in message:
                done = message["done"]
                if kind == "tune":
                    self._tuned = done["revision"], done.pop("text")
                self._job = {"state": "done", "kind": kind, "result": done}
            job = self._job
        self.hub.tell("job", job)

    def stop_job(self) -> None:
        """Stop the tuning or delivery at work; nothing when there is none."""
        self.worker.stop()
        with self._lock:
            if self._job["state"] == "working":
                self._job = {"state": "stopped", "kind": self._job["kind"]}
            job = self._job
        self.hub.tell("job", job)

    def take_tuned(self) -> None:
        """Put the tuned values into the recipe, as one edit."""
        with self._lock:
            tuned = self._tuned
        if tuned is None:
            raise LookwrightError("tune", "there is no result to take")
        if tuned[0] != self.session.looks:
            raise LookwrightError("tune", "the recipe was changed since the tuning began", hint="tune again")
        self.session.replace(tuned[1], "tuned")
        self.leave_tuned()

    def leave_tuned(self) -> None:
        """Forget the result of the last job."""
        with self._lock:
            self._tuned = None
            if self._job["state"] != "working":
                self._job = {"state": "none"}
            job = self._job
        self.hub.tell("job", job)

    # -- what is not saved -----------------------------------------------------------------------------------------

    def take_unsaved(self) -> None:
        """Put the unsaved work of an earlier session back: the recipe as one edit, marks still by still.

        Raises :class:`LookwrightError` for a text that is no recipe any more; it then stays where it is.
        """
        if self._unsaved.offer:
            self.session.replace(self._unsaved.offer, "took up unsaved work")
        if self._unsaved_marks is not None and self._unsaved_marks.offer:
            self.marks.take(self._unsaved_marks.offer)
            for i in range(len(self.given.stills)):
                self.hub.tell("marks", {"still": i, "client": ""})
        self.keeper.now()
        self.keeper.answered(throw_away=True)

    # -- the rest ---------------------------------------------------------------------------------------------------

    def _edited(self, revision: int) -> None:
        self.hub.tell("revision", revision)
        self.check_soon()
        self.keeper.soon()

    def _watch(self) -> None:
        """Notice when something else writes the look file."""
        known = False
        while not self._closing.wait(1.0):
            changed = self.session.changed_on_disk()
            if changed != known:
                known = changed
                self.hub.tell("disk", {"changed": changed})

    def close(self) -> None:
        """End threads and processes; what is not saved is on the disk then."""
        self._closing.set()
        self.keeper.close()
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
        self.hub.close()
        self.checker.close()
        self.worker.close()
        self.bakes.close()
        self.pool.shutdown(wait=False, cancel_futures=True)
