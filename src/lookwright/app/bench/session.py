"""The recipe on the bench: its text, what can be done to it, and everything that was done, so that it can be undone."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lookwright.errors import LookwrightError, RecipeError
from lookwright.files import write_bytes
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import stages
from lookwright.look.recipe.read import parse_look, read_text
from lookwright.look.recipe.write import with_changes
from lookwright.look.steps.base import Step
from lookwright.look.steps.numbers import Path as Place
from lookwright.look.steps.numbers import with_value
from lookwright.pictures.stills import Mark

from . import recipe_text
from .shown import shown_look
from .values import checked, order_tried, text_change

MOST_UNDO = 500


class Gone(LookwrightError):
    """A step that is no longer there: another window took it out."""


class ChangedOnDisk(LookwrightError):
    """The file is not what was read or saved last."""


@dataclass(frozen=True)
class MarksEdit:
    """Marks of one still before and after an edit."""

    still: int
    before: tuple[Mark, ...]
    after: tuple[Mark, ...]


@dataclass(frozen=True)
class Moment:
    """The recipe at one time."""

    text: str
    ids: tuple[int, ...]
    """One number for each step, which stays with it wherever it moves."""
    did: str
    """What led here, in words."""
    marks: MarksEdit | None = None
    """The marks that were changed, where that led here; the text is then the same as before."""


@dataclass(frozen=True)
class Change:
    """One number of one step, or (``step`` None) the strength of the whole look."""

    step: int | None
    path: Place
    value: float


class Session:
    """The recipe of one bench. All methods may be called from several threads; each edit is whole or not at all.

    Parameters
    ----------
    path
        The look file.
    told
        Called with the new revision after each change.
    put_back
        Called with a still and its marks when undo or redo changes them.
    """

    def __init__(
        self,
        path: Path,
        told: Callable[[int], None] = lambda revision: None,
        put_back: Callable[[int, Sequence[Mark]], None] = lambda still, marks: None,
    ) -> None:
        self.path, self._told, self._put_back = path, told, put_back
        self._lock = threading.RLock()
        self._on_disk = self._bytes()
        text = read_text(path)
        self._next = 0
        self.look = self._checked(text)
        self._undo: list[Moment] = []
        self._redo: list[Moment] = []
        self._now = Moment(text, self._new_ids(len(self.look.steps)), "")
        self._saved = text
        self.revision = 1
        self.looks = 1
        """Counts looks: saving is a new revision, but no new look."""
        self.saves = 1
        """Counts texts that were saved or read from the file."""

    # -- what is there ---------------------------------------------------------------------------------------------

    @property
    def text(self) -> str:
        """The recipe's text as it stands."""
        return self._now.text

    @property
    def dirty(self) -> bool:
        """Whether there is something to save."""
        return self._now.text != self._saved

    @property
    def saved(self) -> str:
        """The file's text as it was read or saved last."""
        return self._saved

    def unsaved(self) -> str | None:
        """The text, if it is not saved."""
        with self._lock:
            return self.text if self.dirty else None

    def snapshot(self) -> tuple[Look, Moment, tuple[int, int], str, str, bool]:
        """(look, moment, (revision, looks), what undo and redo would do, dirty), all of one instant."""
        with self._lock:
            undo = self._now.did if self._undo else ""
            redo = self._redo[-1].did if self._redo else ""
            return self.look, self._now, (self.revision, self.looks), undo, redo, self.dirty

    def history(self) -> tuple[list[str], int]:
        """What was done, oldest first, "" for the recipe as it was opened; and which of these is now."""
        with self._lock:
            return [m.did for m in self._moments()], len(self._undo)

    def saved_look(self) -> Look:
        """The look of the file's text as it was read or saved last."""
        return self._checked(self._saved)

    def changed_on_disk(self) -> bool:
        """Whether someone else wrote (or removed) the file since it was read or saved."""
        try:
            return self._bytes() != self._on_disk
        except LookwrightError:
            return True

    def trial(self, changes: Sequence[Change]) -> Look:
        """The look with some numbers changed, without keeping them: a slider on its way."""
        with self._lock:
            look, ids = self.look, self._now.ids
        steps = list(look.steps)
        for change in changes:
            if change.step is None:
                look = look.with_strength(_strength(change.value))
                continue
            i = self._index(ids, change.step)
            checked(steps[i], change.path, change.value)
            steps[i] = with_value(steps[i], change.path, change.value)
        return look.model_copy(update={"steps": tuple(steps)}).with_folder(look.folder)

    def placed(self, step: int) -> tuple[Look, int]:
        """The look as it stands, and the place of a step in it.

        Raises :class:`Gone` for a step that another window took out.
        """
        with self._lock:
            return self.look, self._index(self._now.ids, step)

    def words(self, changes: Sequence[Change]) -> dict[int, str]:
        """Each changed step in words, by its id. A print takes some 30 ms to say what it does."""
        steps, ids = self.trial(changes).steps, self._now.ids
        return {c.step: steps[self._index(ids, c.step)].in_words() for c in changes if c.step is not None}

    def trial_text(self, changes: Sequence[Change]) -> str:
        """The recipe's text with some numbers changed, without keeping it."""
        with self._lock:
            told, *_ = self._told_of(changes)
            return with_changes(self.text, told)

    # -- edits ------------------------------------------------------------------------------------------------------

    def set(self, changes: Sequence[Change], did: str = "") -> None:
        """Keep some numbers: one entry in the history, called ``did`` or by what was changed."""
        with self._lock:
            told, steps, words = self._told_of(changes)
            self._put(told, did or ", ".join(words), steps)

    def switch(self, step: int, on: bool) -> None:
        """Leave a step out, or take it in again."""
        with self._lock:
            i = self._index(self._now.ids, step)
            steps = list(self.look.steps)
            steps[i] = steps[i].model_copy(update={"on": on})
            with order_tried():
                self._put({("step", i, "on"): on}, f"{steps[i].kind} {'on' if on else 'off'}", steps)

    def lock(self, step: int, lock: bool | Sequence[str]) -> None:
        """Say what tuning must leave alone: the whole step, or parameters by name."""
        with self._lock:
            i = self._index(self._now.ids, step)
            value = lock if isinstance(lock, bool) else (list(lock) or False)
            steps = list(self.look.steps)
            told = value if isinstance(value, bool) else tuple(value)
            steps[i] = steps[i].model_copy(update={"lock": told})
            self._put({("step", i, "lock"): value}, f"locks of {steps[i].kind}", steps)

    def add(self, kind: str, index: int) -> None:
        """A new step at its defaults, as number ``index`` from 0."""
        with order_tried():
            self.make(kind, index, {})

    def make(self, kind: str, index: int, values: Mapping[str, float], centre: float | None = None) -> None:
        """A new step with some values of its own, and with a hue band where ``centre`` says so: one edit."""
        with self._lock:
            index = max(0, min(index, len(self.look.steps)))
            ids = list(self._now.ids)
            ids.insert(index, self._new_ids(1)[0])
            text = recipe_text.inserted(self.text, index, kind, values)
            if centre is not None:
                text = recipe_text.band_added(text, index, centre)
            self._keep(text, tuple(ids), f"added {kind}")

    def remove(self, step: int) -> None:
        """Take a step out."""
        with self._lock:
            i = self._index(self._now.ids, step)
            rest = [s for j, s in enumerate(self.look.steps) if j != i]
            ids = tuple(n for n in self._now.ids if n != step)
            did = f"took {self.look.steps[i].kind} out"
            with order_tried():
                self._keep(recipe_text.removed(self.text, i), ids, did, expected=rest)

    def move(self, step: int, to: int) -> None:
        """Put a step elsewhere in the order, as number ``to`` from 0."""
        with self._lock:
            i = self._index(self._now.ids, step)
            to = max(0, min(to, len(self.look.steps) - 1))
            if to == i:
                return
            steps, ids = list(self.look.steps), list(self._now.ids)
            steps.insert(to, steps.pop(i))
            ids.insert(to, ids.pop(i))
            did = f"moved {steps[to].kind}"
            with order_tried():
                self._keep(recipe_text.moved(self.text, i, to), tuple(ids), did, expected=steps)

    def add_band(self, step: int, centre: float) -> None:
        """One more band of a ``hues`` step."""
        with self._lock:
            i = self._index(self._now.ids, step)
            self._keep(recipe_text.band_added(self.text, i, centre), self._now.ids, "added a band")

    def remove_band(self, step: int, band: int) -> None:
        """One band less."""
        with self._lock:
            i = self._index(self._now.ids, step)
            self._keep(recipe_text.band_removed(self.text, i, band), self._now.ids, "took a band out")

    def replace(self, text: str, did: str) -> None:
        """Another text for the whole recipe, e.g. what tuning wrote; can be undone."""
        with self._lock:
            look = self._checked(text)
            same = [s.kind for s in look.steps] == [s.kind for s in self.look.steps]
            ids = self._now.ids if same else self._new_ids(len(look.steps))
            self._keep(text, ids, did)

    def marked(self, still: int, before: Sequence[Mark], after: Sequence[Mark], did: str) -> None:
        """Keep in the history that marks were changed; the text stays."""
        with self._lock:
            edit = MarksEdit(still, tuple(before), tuple(after))
            self._push(Moment(self.text, self._now.ids, did, edit), self.look)

    def undo(self) -> None:
        """One edit back; nothing when there is none."""
        with self._lock:
            self.go(len(self._undo) - 1)

    def redo(self) -> None:
        """One undone edit again; nothing when there is none."""
        with self._lock:
            self.go(len(self._undo) + 1)

    def go(self, place: int) -> None:
        """To a place in the history, as :meth:`history` counts them; marks are put back edit by edit."""
        with self._lock:
            moments, now = self._moments(), len(self._undo)
            place = max(0, min(place, len(moments) - 1))
            if place == now:
                return
            look = self._checked(moments[place].text)
            self._undo, self._redo = moments[:place], moments[:place:-1]
            self._become(moments[place], look)
            for moment in moments[now + 1 : place + 1] or moments[now:place:-1]:
                if moment.marks is not None:
                    edit = moment.marks
                    self._put_back(edit.still, edit.after if place > now else edit.before)

    # -- the file ---------------------------------------------------------------------------------------------------

    def save(self, overwrite: bool = False) -> None:
        """Write the text, line ends as the file had them.

        Raises :class:`ChangedOnDisk` when the file is not what was read or saved last, unless ``overwrite``.
        """
        with self._lock:
            if not overwrite and self.changed_on_disk():
                raise ChangedOnDisk(str(self.path), "was changed by something else since it was opened here")
            ends = "\r\n" if b"\r\n" in self._on_disk else "\n"
            data = self.text.replace("\n", ends).encode("utf-8")
            write_bytes(self.path, data)
            self._on_disk, self._saved = data, self.text
            self.saves += 1
            self._changed()

    def reload(self) -> None:
        """Take the file's present text; what was here before can be had back with undo."""
        with self._lock:
            data = self._bytes()
            text = read_text(self.path)
            self.replace(text, "read the file again")
            self._on_disk, self._saved = data, text
            self.saves += 1
            self._changed()

    # -- inside -----------------------------------------------------------------------------------------------------

    def _bytes(self) -> bytes:
        read_text(self.path)  # its faults are one clear line
        return self.path.read_bytes()

    def _checked(self, text: str) -> Look:
        """The look of a text, its order of steps tried too, as it is shown."""
        look = parse_look(text, self.path.name).with_folder(self.path.parent)
        stages(look)
        stages(shown_look(look)[0])
        return look

    def _new_ids(self, count: int) -> tuple[int, ...]:
        first, self._next = self._next + 1, self._next + count
        return tuple(range(first, first + count))

    @staticmethod
    def _index(ids: Sequence[int], step: int) -> int:
        if step not in ids:
            raise Gone("step", "it is no longer in the recipe", hint="another window took it out")
        return ids.index(step)

    def _told_of(self, changes: Sequence[Change]) -> tuple[dict[Place, Any], list[Step], list[str]]:
        """Changes as the text is told them, the steps that it then has, and each change in words."""
        told: dict[Place, Any] = {}
        steps, words = list(self.look.steps), []
        for change in changes:
            if change.step is None:
                told[("strength",)] = _strength(change.value)
                words.append(f"strength {change.value:.4g}")
                continue
            i = self._index(self._now.ids, change.step)
            number = checked(steps[i], change.path, change.value)
            place, value = text_change(steps[i], i, change.path, change.value)
            told[place] = value
            # As the text will carry it: six digits.
            steps[i] = with_value(steps[i], change.path, float(f"{change.value:.6g}"))
            words.append(f"{steps[i].kind} {number.lock_name} {change.value:.4g}")
        return told, steps, words

    def _put(self, told: dict[Place, Any], did: str, steps: Sequence[Step]) -> None:
        """Values into the text, once it reads as these steps."""
        self._keep(_spaced(self.text, with_changes(self.text, told)), self._now.ids, did, steps)

    def _keep(self, text: str, ids: tuple[int, ...], did: str, expected: Sequence[Step] | None = None) -> None:
        look = self._checked(text)
        if len(ids) != len(look.steps) or (expected is not None and list(look.steps) != list(expected)):
            raise RecipeError(
                self.path.name, "the text is laid out so that this cannot be done here", hint="edit it by hand"
            )
        if text == self.text:
            return
        self._push(Moment(text, ids, did), look)

    def _moments(self) -> list[Moment]:
        return [*self._undo, self._now, *reversed(self._redo)]

    def _push(self, moment: Moment, look: Look) -> None:
        self._undo.append(self._now)
        del self._undo[:-MOST_UNDO]
        self._redo.clear()
        self._become(moment, look)

    def _become(self, moment: Moment, look: Look) -> None:
        self.looks += look != self.look
        self.look, self._now = look, moment
        self._changed()

    def _changed(self) -> None:
        self.revision += 1
        self._told(self.revision)


def _strength(value: float) -> float:
    if not 0.0 <= value <= 1.0:
        raise RecipeError("strength", f"{value:g}", "0 to 1")
    return float(value)


def _spaced(before: str, after: str) -> str:
    """A blank line before each ``[[step]]`` that lost it when a table was added in front of it."""
    if after.count("\n[step.") == before.count("\n[step.") and after.count("[step.") == before.count("[step."):
        return after
    lines = after.split("\n")
    out: list[str] = []
    for line in lines:
        if line.strip().startswith("[[step]]") and out and out[-1].strip() and not out[-1].lstrip().startswith("#"):
            out.append("")
        out.append(line)
    return "\n".join(out)
