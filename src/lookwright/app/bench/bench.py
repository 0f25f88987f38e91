"""Everything of one bench together: recipe, stills, marks, bakes, checks and jobs."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.assess.measure.skin_line import SKIN_LINE_DEG
from lookwright.colour.luma import luma_weights
from lookwright.colour.spaces.ranges import Range
from lookwright.errors import LookwrightError
from lookwright.jobs.doubts import doubts_about
from lookwright.jobs.found import found_marks
from lookwright.jobs.given import MARKS, SignalName
from lookwright.jobs.job import declare
from lookwright.jobs.looks import load_look, signal_of
from lookwright.look.recipe.model import Look
from lookwright.outputs import Output
from lookwright.pictures.clips.read import read_clip
from lookwright.pictures.stills import Mark, find_stills

from . import describe
from .bake_queue import REST, BakeQueue
from .checking import chosen
from .codes import workers
from .dropped import Dropped
from .footage import Footage
from .hub import Hub
from .looking import Looking
from .mark_table import MarkTable
from .pictures import MAP_STOPS, Pictures, Region, map_colours
from .proposal import Proposal
from .session import Session
from .shelf import Shelf
from .shown import on_screen
from .sides import Sides
from .thumbs import Thumbs
from .trials import Trials
from .unsaved import Keeper, Unsaved
from .versions import Versions
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
    clips: tuple[Path, ...] = ()
    """Short clips to be played through the look."""
    matrix: str | None = None
    """Of all clips, in place of their tags."""
    range_: Range | None = None

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
        clips: Sequence[Path] = (),
        matrix: str | None = None,
        range_: Range | None = None,
    ) -> Given:
        """With folders looked through, and what was not said in its usual place.

        Raises :class:`PictureError`, also for what is no clip, or :class:`NameLookupError` for a source that is not
        known.
        """
        signal_of(source)  # a fault in its name is one for the terminal
        paths = find_stills(stills)
        marks = marks if marks is not None else paths[0].parent / MARKS
        saved = [Output(look, "look", instead_of=look), Output(marks, "marks", instead_of=marks)]
        declare([look, marks, paths, list(references), list(clips)], saved)
        for clip in clips:
            read_clip(clip, matrix, range_)  # as is one in them
        return cls(
            look,
            tuple(paths),
            marks,
            out if out is not None else look.with_name(f"{look.stem}-delivery"),
            tuple(find_stills(references)) if references else (),
            reference_encoding,
            source,
            tuple(clips),
            matrix,
            range_,
        )


class Bench:
    """One session. Close it to end its threads and processes."""

    def __init__(self, given: Given) -> None:
        self.given = given
        self.hub = Hub()
        self.session = Session(given.look, self._edited, self._put_back)
        self.pool = workers()
        self.pictures = Pictures(given.stills, self.pool)
        self.marks = MarkTable(given.marks, given.stills, self.pictures)
        self.bakes = BakeQueue(self.pool)
        self.looking = Looking(self.session, self.pictures, self.pool)
        self.thumbs, self.dropped = Thumbs(self.pictures), Dropped()
        reading = partial(read_clip, matrix=given.matrix, range_=given.range_)
        self.footage = Footage(list(given.clips), lambda about: self.hub.tell("clip", about), reading)
        self.checker = Helper(self._checked)
        self.worker = Helper(self._worked)
        self._job: dict[str, Any] = {"state": "none"}
        self.versions = Versions(given.look)
        self.shelf = Shelf(given.look, given.references, given.reference_encoding)
        self.sides = self._sides()
        self._proposal: Proposal | None = None
        self._tuned_from: tuple[int, ...] = ()
        self._choices = 0
        self.trials = Trials(self.session, self.bakes, self.pictures, self.marks, self.check_trial)
        self._latest: dict[tuple[str, str], int] = {}
        self._counter = 0
        self._states = 0
        self._stating = threading.RLock()
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
        """Everything that the page shows, except pictures.

        Made one after the other and counted: of two answers that overtake each other the page keeps the later.
        """
        with self._stating:
            self._states += 1
            return {**self._state(), "count": self._states}

    def _state(self) -> dict[str, Any]:
        look = self.session.look
        signal = on_screen(look)[1].signal
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
            "clips": self.footage.names(),
            "references": [p.name for p in self.given.references],
            "guests": self.shelf.names(),
            "versions": [{"id": v.id, "name": v.name, "when": v.when} for v in self.versions.list],
            "versions_fault": self.versions.fault,
            "job": self.job(),
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
        doubts = [f.sentence for f in doubts_about(still, self.session.look.source.signal())]
        marks = [{"name": m.name, "box": list(m.box), "level": m.level, "role": m.role} for m in self.marks.of(index)]
        return {
            "width": still.width,
            "height": still.height,
            "depth": still.depth,
            "marks": marks,
            "measured": found,
            "doubts": doubts,
        }

    def legend(self) -> dict[str, Any]:
        """Colours and ends of the exposure map."""
        return {"colours": map_colours(), "stops": MAP_STOPS}

    def look_ahead(self, index: int, region: Region) -> None:
        """Find what a large view reads of a lattice before the first slider moves."""
        if region.width * region.height < WORTH_AHEAD or self._closing.is_set():
            return
        with contextlib.suppress(RuntimeError):  # closed in the meantime
            self.pool.submit(self.pictures.seen(index, region).places, REST)

    # -- what comes later -------------------------------------------------------------------------------------------

    def take_still(self, path: Path) -> dict[str, Any]:
        """A dropped file among the stills, once our reader has read it; its number and the new state."""
        self.dropped.still(path)
        with self._lock:
            self.given = replace(self.given, stills=(*self.given.stills, path))
            self.marks.add(path)
            index = self.pictures.add(path)
        self.hub.tell("stills", len(self.given.stills))
        self.check_soon(1.0)
        return {"still": index, "state": self.state()}

    def take_clip(self, path: Path) -> dict[str, Any]:
        """A dropped file among the clips, once the clip reader knows what it is."""
        try:
            return {"clip": self.footage.add(path), "state": self.state()}
        except LookwrightError as exc:
            self.dropped.drop(path, path.stat().st_size)
            raise LookwrightError(path.name, exc.got, exc.expected, exc.hint) from None

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

    def check_trial(self, text: str, still: int | None, hand: int) -> None:
        """Measure restraint of a slider on its way, on the still looked at and without what would ease it. The verdict
        on all stills follows when the hand lets go; this one never takes its place, neither while they wait nor in the
        news: it has a topic of its own."""
        stills = [self.given.stills[still]] if still is not None and still < len(self.given.stills) else []
        asked = {"work": "check", "revision": "moving", "hand": hand, "advised": False, "text": text}
        self.checker.ask(asked | self._files(stills), spare=True)

    def let_go(self) -> None:
        """A slider was let go, wherever: the verdict is of the recipe again."""
        self.trials.drop()
        self.check_soon()

    def _files(self, stills: Sequence[Path]) -> dict[str, Any]:
        marks = {n: [(m.name, m.box, m.level, m.role) for m in several] for n, several in self.marks.by_name().items()}
        folder = str(self.given.look.parent)
        return {"folder": folder, "stills": [str(p) for p in stills], "marks": marks}

    def _checked(self, message: dict[str, Any]) -> None:
        hand = message["asked"].get("hand")
        if hand is not None:
            if "done" in message and hand == self.trials.hand:
                self.looking.keep_places(message["done"].pop("where", {}))
                self.hub.tell("verdict", message["done"])
        elif "done" in message:
            self.looking.keep_places(message["done"].pop("where", {}))
            self.hub.tell("restraint", message["done"])
        elif "fault" in message:
            self.hub.tell("restraint", {"summary": "cannot be measured", "fault": message["fault"], "findings": []})

    def tune(self, goals: dict[str, Any]) -> None:
        """Start a tuning; raises :class:`LookwrightError` when something is at work already."""
        _, moment, *_ = self.session.snapshot()
        asked = {
            "work": "tune",
            "text": moment.text,
            "goals": goals,
            "references": [str(p) for p in self.given.references],
            "reference_encoding": self.given.reference_encoding,
            **self._files(self.given.stills),
        }
        self._start("tune", asked, moment.ids)

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

    def _start(self, kind: str, asked: dict[str, Any], ids: tuple[int, ...] = ()) -> None:
        with self._lock:
            if self._job["state"] == "working":
                raise LookwrightError(kind, f"a {self._job['kind']} is at work", hint="wait for it, or stop it")
            self._proposal, self._tuned_from = None, ids
            self._job = {"state": "working", "kind": kind, "progress": "starting", "began": time.time()}
        self._tell_job()
        self.worker.ask(asked)

    def _worked(self, message: dict[str, Any]) -> None:
        with self._lock:
            kind = self._job.get("kind", "")
            if "progress" in message:
                self._job = {**self._job, "progress": message["progress"], "cost": message.get("cost")}
                self._job["done"] = message.get("done")
            elif "fault" in message:
                self._job = {"state": "failed", "kind": kind, "fault": message["fault"]}
            elif "done" in message:
                done = message["done"]
                if kind == "tune":
                    self._proposal = Proposal.of(self.session, self._tuned_from, done["changes"])
                    self._choices += 1
                self._job = {"state": "done", "kind": kind, "result": done}
        self._tell_job()

    def stop_job(self) -> None:
        """Stop the tuning or delivery at work; nothing when there is none."""
        self.worker.stop()
        with self._lock:
            if self._job["state"] == "working":
                self._job = {"state": "stopped", "kind": self._job["kind"]}
        self._tell_job()

    def job(self) -> dict[str, Any]:
        """The job at work or done; of a tuning also which of its numbers are wanted, and what became of them since.

        Counted as states are: it reaches the page both within them and as news.
        """
        with self._stating:
            self._states += 1
            with self._lock:
                job, proposal = dict(self._job), self._proposal
            if job["state"] == "working":
                job["seconds"] = round(time.time() - job.pop("began"), 1)
            if proposal is not None:
                job |= {"chosen": list(proposal.wanted), "standing": proposal.standing(), "choices": self._choices}
            return {**job, "count": self._states}

    def _tell_job(self) -> None:
        with self._stating:  # two threads tell it in the order in which they looked
            self.hub.tell("job", self.job())

    def choose_tuned(self, chosen: Sequence[int]) -> None:
        """Which numbers of the proposal are wanted, by place; raises :class:`LookwrightError` when there is none."""
        proposal = self._proposed()
        with self._lock:
            proposal.wanted = tuple(sorted({i for i in chosen if i < len(proposal.moves)}))
            self._choices += 1
        self._tell_job()

    def _proposed(self) -> Proposal:
        with self._lock:
            if self._proposal is None:
                raise LookwrightError("tune", "there is no result to take")
            return self._proposal

    def take_tuned(self) -> None:
        """Put the wanted of the tuned numbers into the recipe, as one edit; edits made meanwhile stay."""
        self._proposed().take()
        self.leave_tuned()

    def leave_tuned(self) -> None:
        """Forget the result of the last job."""
        with self._lock:
            self._proposal = None
            if self._job["state"] != "working":
                self._job = {"state": "none"}
        self._tell_job()

    # -- what is compared with --------------------------------------------------------------------------------------

    def _sides(self) -> Sides:
        sides = Sides()
        sides.add("now", lambda _: self.session.look)
        sides.add("plain", lambda _: self.session.look.plain())
        sides.add("saved", lambda _: self.session.saved_look())
        sides.add("version", lambda id: self.shelf.look(id, self.versions.get(id).text))
        sides.add("guest", self.shelf.guest)
        sides.add("proposal", lambda _: self._proposed().look())
        for kind in ("upto", "alone"):
            sides.add(kind, partial(self._variant, kind))
        return sides

    def _variant(self, kind: str, step: str) -> Look:
        if not step.isdecimal():
            raise LookwrightError("side", f"{kind}:{step}", "the number of a step behind the colon")
        return self.looking.variant(kind, int(step))

    def keep_version(self, name: str) -> None:
        """The recipe as it stands, under a name."""
        self.versions.keep(name, self.session.text)
        self.hub.tell("state", self.versions.path.name)

    def version(self, id: str, do: str, name: str) -> None:
        """Rename a version, take it out, or make it the recipe."""
        if do == "rename":
            self.versions.rename(id, name)
        elif do == "drop":
            self.versions.drop(id)
        else:
            version = self.versions.get(id)
            self.session.replace(version.text, f"version {version.name}")

    def save_as(self, name: str) -> str:
        """Write the recipe as it stands beside its file, under another name; the name it got."""
        return self.shelf.save_as(name, self.session.text)

    def welcome(self, name: str, text: str) -> None:
        """Another look to compare with."""
        self.shelf.welcome(name, text)

    def reference(self, index: int, width: int, height: int) -> NDArray[np.uint8]:
        """(h, w, 3) of a reference inside width x height, as the page shows it."""
        return self.shelf.reference(index, width, height, self.session.look)

    # -- marks ------------------------------------------------------------------------------------------------------

    def keep_marks(self, still: int, marks: Sequence[Mark], client: str) -> None:
        """The new marks of a still, as one edit."""
        before = self.marks.of(still)
        if list(marks) == before:
            return
        self.marks.put(still, marks)
        self.session.marked(still, before, marks, _what_changed(before, marks))
        self._marks_changed(still, client)

    def _put_back(self, still: int, marks: Sequence[Mark]) -> None:
        self.marks.put(still, marks)
        self._marks_changed(still, "")

    def _marks_changed(self, still: int, client: str) -> None:
        self.keeper.soon()
        for one in self.marks.sharing(still):
            self.hub.tell("marks", {"still": one, "client": client if one == still else ""})
        self.check_soon(1.0)

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
        self.trials.drop()
        self.keeper.close()
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
        self.hub.close()
        self.checker.close()
        self.worker.close()
        self.bakes.close()
        self.footage.close()
        self.dropped.close()
        self.pool.shutdown(wait=False, cancel_futures=True)


def _what_changed(before: Sequence[Mark], after: Sequence[Mark]) -> str:
    """An edit of marks in words."""
    old, new = {m.name: m for m in before}, {m.name: m for m in after}
    out, came = [n for n in old if n not in new], [n for n in new if n not in old]
    if len(out) == len(came) == 1:
        return f"mark {out[0]} called {came[0]}"
    each = [*(f"mark {n} drawn" for n in came), *(f"mark {n} taken out" for n in out)]
    each = each or [f"mark {n}" for n in new if new[n] != old[n]]
    return each[0] if len(each) == 1 else f"{each[0]} and {len(each) - 1} more" if each else "marks in another order"
