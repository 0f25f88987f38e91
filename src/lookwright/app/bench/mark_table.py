"""Marks on the stills: drawn on the page, measured here, kept in the marks file."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit
from tomlkit.items import Table

from lookwright.assess.measure.levels import level
from lookwright.errors import MarksError
from lookwright.files import write_text
from lookwright.look.recipe.model import Look
from lookwright.pictures.stills import Mark, marks_for, parse_marks, read_marks, region

from .pictures import Pictures
from .shown import on_screen

SAMPLES = 4096
"""Pixels measured of one mark, all of a small one: the median of a large one is then good to a tenth of its spread."""


class MarkTable:
    """All marks of the session by still, and the file they come from."""

    def __init__(self, path: Path | None, paths: Sequence[Path], pictures: Pictures) -> None:
        self.path, self._paths, self._pictures = path, list(paths), pictures
        self._lock = threading.Lock()
        self._read_bytes = path.read_bytes() if path is not None and path.is_file() else b""
        table = read_marks(path) if path is not None and path.is_file() else {}
        self._marks: dict[int, list[Mark]] = {i: list(marks_for(table, p)) for i, p in enumerate(self._paths)}
        self._as_saved = {i: list(m) for i, m in self._marks.items()}
        self._keys = {i: _key(table, p.stem) for i, p in enumerate(self._paths)}
        self._looked: set[int] = set()

    @property
    def saved(self) -> str:
        """The marks file's text as it was read or saved last; empty when there is none."""
        return self._read_bytes.decode("utf-8", "replace")

    @property
    def dirty(self) -> bool:
        """Whether marks are others than were read or saved."""
        with self._lock:
            return bool(self._touched)

    @property
    def _touched(self) -> set[int]:
        return {i for i, m in self._marks.items() if m != self._as_saved.get(i, [])}

    def sharing(self, still: int) -> list[int]:
        """The stills that have their marks under the same name of the file (``close`` for all takes of a set-up): a
        change of one is a change of all of them."""
        key = self._keys.get(still, "")
        stem = self._paths[still].stem
        return [i for i, k in self._keys.items() if k == key] if key and key != stem else [still]

    def of(self, still: int) -> list[Mark]:
        """The marks of one still, in order."""
        with self._lock:
            return list(self._marks.get(still, []))

    def add(self, path: Path) -> None:
        """One more still, without marks of its own yet."""
        with self._lock:
            self._paths.append(path)

    def fill(self, still: int, find: Callable[[], list[Mark]]) -> None:
        """Marks that ``find`` finds, for a still that has none and was not looked through yet; they are not saved."""
        with self._lock:
            if still in self._looked or self._marks.get(still) or self._as_saved.get(still):
                return
            self._looked.add(still)
        found = find()
        with self._lock:
            if not self._marks.get(still) and not self._as_saved.get(still):
                self._marks[still] = found
                self._as_saved[still] = list(found)

    def by_name(self) -> dict[str, list[Mark]]:
        """Marks under the stems of their stills, for tuning and checks."""
        with self._lock:
            return {self._paths[i].stem: list(m) for i, m in self._marks.items() if m}

    def put(self, still: int, marks: Sequence[Mark]) -> None:
        """The new marks of one still, and of those that share them."""
        if not 0 <= still < len(self._paths):
            raise MarksError("marks", f"no still number {still + 1}")
        names = [m.name for m in marks]
        if len(set(names)) != len(names):
            raise MarksError("marks", "two marks have the same name")
        with self._lock:
            for one in self.sharing(still):
                self._marks[one] = list(marks)

    def samples(self, still: int, most: int) -> list[tuple[str, np.ndarray]]:
        """(name, (n, 3) source pixels, at most ``most``) of each mark of a still, for a quick measurement.

        They are every so many of all, sorted by their code values: a look hardly changes that order, so few of them
        have the levels of all.
        """
        marks = self.of(still)
        if not marks:
            return []
        picture = self._pictures.still(still)
        found = []
        for mark in marks:
            pixels = np.clip(thinned(region(picture, mark)), 0.0, 1.0)
            pixels = pixels[np.argsort(pixels.sum(axis=1), kind="stable")]
            count = min(most, len(pixels))
            at = ((np.arange(count) + 0.5) * len(pixels) / count).astype(int)
            found.append((mark.name, pixels[at]))
        return found

    def measured(self, still: int, marks: Sequence[Mark], look: Look) -> list[dict[str, Any]]:
        """For each mark its level in the graded picture, and the light that was there in the scene."""
        picture = self._pictures.still(still)
        output = on_screen(look)[1].signal
        source = look.source.signal()
        boxes = [thinned(region(picture, m)) for m in marks]
        if not boxes:
            return []
        ends = np.cumsum([0, *(len(b) for b in boxes)])
        graded = self._pictures.graded(np.clip(np.concatenate(boxes), 0.0, 1.0), look)
        found = []
        for i, mark in enumerate(marks):
            after = level(graded[ends[i] : ends[i + 1]], output, mark.name)
            before = level(boxes[i], source, mark.name)
            found.append(
                {
                    "name": mark.name,
                    "level": after.luma.median,
                    "low": after.luma.p5,
                    "high": after.luma.p95,
                    "rgb": [after.red.median, after.green.median, after.blue.median],
                    "stops": before.scene.stops,
                    "estimated": before.scene.estimated,
                    "wanted": mark.level,
                }
            )
        return found

    def changed_on_disk(self) -> bool:
        """Whether something else wrote (or removed) the file since it was read or saved."""
        return self.path is not None and self._there() != self._read_bytes

    def _there(self) -> bytes:
        return self.path.read_bytes() if self.path is not None and self.path.is_file() else b""

    def save(self, overwrite: bool = False) -> Path:
        """Write the changed marks into the marks file; other entries and remarks stay.

        Raises :class:`MarksError` when the file was changed by something else, unless ``overwrite``.
        """
        if self.path is None:
            raise MarksError("marks", "there is no marks file", hint="start the bench with --marks FILE")
        with self._lock:
            there = self._there()
            if there != self._read_bytes and not overwrite:
                raise MarksError(str(self.path), "was changed by something else since it was read here")
            text = self._text(there)
            write_text(self.path, text)
            self._read_bytes = text.encode("utf-8")
            self._as_saved = {i: list(m) for i, m in self._marks.items()}
            self._keys = {i: self._keys[i] or p.stem for i, p in enumerate(self._paths)}
            return self.path

    def unsaved(self) -> str | None:
        """The marks file as saving would write it now; None when there is nothing to save."""
        with self._lock:
            return self._text(self._there()) if self._touched else None

    def take(self, text: str) -> None:
        """Marks of an earlier session that were not saved, in the form of :meth:`unsaved`.

        Raises :class:`MarksError` for a text that is no marks file.
        """
        table = parse_marks(text, "unsaved marks")
        for i, path in enumerate(self._paths):
            self.put(i, marks_for(table, path))

    def _text(self, there: bytes) -> str:
        document = tomlkit.parse(there.decode("utf-8"))
        for still in sorted(self._touched):
            key = _key(document, self._paths[still].stem) or self._paths[still].stem
            document[key] = _table(self._marks[still], document.get(key, {}))
        return tomlkit.dumps(document)


def thinned(box: np.ndarray, most: int = SAMPLES) -> np.ndarray:
    """(n, 3) float64 pixels of a box, at most ``most`` of them, evenly spread over its rows."""
    flat = np.asarray(box).reshape(-1, 3)
    if len(flat) > most:
        flat = flat[(np.arange(most) * len(flat)) // most]
    return flat.astype(np.float64)


def _key(table: Mapping[str, Any], stem: str) -> str:
    """The name under which a still's marks stand in a file: its own, or the longest beginning of it; "" for none."""
    if stem in table:
        return stem
    fits = [k for k in table if stem.startswith(k) and k and stem[len(k) :][:1] in ("_", "-", ".", " ")]
    return max(fits, key=len, default="")


def _table(marks: Sequence[Mark], old: Any) -> Any:
    """A table of marks; what did not change keeps its own lines, and remarks stay where they stand."""
    if not marks or not isinstance(old, Table) or not all(isinstance(old.get(m.name, {}), dict) for m in marks):
        table = tomlkit.table(bool(marks))  # an empty table has its header, so that readers know the still
        for mark in marks:
            table.append(mark.name, _entry(mark))
        return table
    for name in [n for n in old if n not in {m.name for m in marks}]:
        old.remove(name)
    for mark in marks:
        if mark.name not in old:
            old.append(mark.name, _entry(mark))
        elif not _same(mark, old[mark.name]):
            _mend(old[mark.name], mark)
    return old


def _entry(mark: Mark) -> Any:
    new = tomlkit.table()
    _mend(new, mark)
    return new


def _mend(entry: Any, mark: Mark) -> None:
    """Make an entry say what the mark is, key by key."""
    if tuple(float(v) for v in entry.get("box", ())) != mark.box:
        entry["box"] = _four_digits(mark.box)
    level = None if mark.level is None else int(mark.level) if mark.level == int(mark.level) else mark.level
    for key, value in (("role", mark.role or None), ("level", level)):
        if value is None:
            entry.pop(key, None)
        elif entry.get(key) != value:
            entry[key] = value


def _four_digits(box: Sequence[float]) -> list[float]:
    """A box as it is written, its far edges rounded, not its extent: the sum of two rounded numbers may pass 1."""
    x, y, width, height = box
    out = []
    for start, extent in ((x, width), (y, height)):
        end = max(min(round(start + extent, 4), 1.0), 1e-4)
        begin = min(round(start, 4), end - 1e-4)
        out.append((round(begin, 4), round(end - begin, 4)))
    return [out[0][0], out[1][0], out[0][1], out[1][1]]


def _same(mark: Mark, entry: Any) -> bool:
    return (
        tuple(float(v) for v in entry.get("box", ())) == mark.box
        and entry.get("role") == mark.role
        and entry.get("level") == mark.level
    )
