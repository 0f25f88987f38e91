"""What lies beside the recipe to be compared with: other looks that the user opened, and references."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError
from lookwright.files import write_text
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import stages
from lookwright.look.recipe.read import parse_look
from lookwright.names import Names
from lookwright.pictures.stills import Still, read

from .pictures import smaller
from .shown import on_screen, shown_look

MOST_GUESTS = 12
LOOKS_KEPT = 24


class Shelf:
    """Guests and references of one bench.

    Parameters
    ----------
    path
        The look file of the bench.
    references, encoding
        Finished pictures, and what they are if not the look's own output.
    """

    def __init__(self, path: Path, references: Sequence[Path], encoding: str) -> None:
        self._path, self._references, self._encoding = path, list(references), encoding
        self._lock = threading.Lock()
        self._guests: dict[str, tuple[str, str]] = {}
        self._looks: OrderedDict[str, Look] = OrderedDict()
        self._stills: OrderedDict[int, Still] = OrderedDict()

    def names(self) -> list[dict[str, str]]:
        """The looks that were opened, in the order in which they came."""
        with self._lock:
            return [{"id": id, "name": name} for id, (name, _) in self._guests.items()]

    def look(self, key: str, text: str) -> Look:
        """The look of a text, remembered under ``key``; raises :class:`LookwrightError` for one that is none."""
        with self._lock:
            if key in self._looks:
                self._looks.move_to_end(key)
                return self._looks[key]
        look = parse_look(text, "look").with_folder(self._path.parent)
        stages(shown_look(look)[0])
        with self._lock:
            self._looks[key] = look
            while len(self._looks) > LOOKS_KEPT:
                self._looks.popitem(last=False)
        return look

    def welcome(self, name: str, text: str) -> str:
        """Another look; its id. Of one name the newest counts.

        Raises :class:`LookwrightError` for a text that is no look, or one that reads files: the page hands over a text
        and no folder, and may reach no other file of this machine.
        """
        look = parse_look(text, name)
        if any(step.kind == "lut" for step in look.steps):
            raise LookwrightError(name, "reads a LUT file, which a look opened here cannot", hint="use preview --look")
        stages(shown_look(look)[0])
        with self._lock:
            id = next((i for i, (n, _) in self._guests.items() if n == name), f"{len(self._guests) + 1}")
            if id not in self._guests and len(self._guests) >= MOST_GUESTS:
                raise LookwrightError(name, f"{MOST_GUESTS} looks are open already")
            self._guests[id] = name, text
            self._looks.pop(f"guest {id}", None)
        return id

    def guest(self, id: str) -> Look:
        """A look that was opened; raises :class:`LookwrightError` when there is none of that id."""
        with self._lock:
            if id not in self._guests:
                raise LookwrightError("look", "it was not opened here")
            _, text = self._guests[id]
        return self.look(f"guest {id}", text)

    def save_as(self, name: str, text: str) -> str:
        """Write a recipe beside the look; the file's name. Nothing that is there is written over.

        Raises :class:`LookwrightError` for a name that is taken, or a folder that cannot be written.
        """
        stem = name.strip().removesuffix(".toml").strip()
        file = f"{Names().part(stem)}.toml" if stem else ""
        if not file or Path(file).name != file:
            raise LookwrightError("name", f"{name!r}", "a name for a file")
        target = self._path.with_name(file)
        if target.exists():
            raise LookwrightError(file, "is there already", hint="take another name")
        write_text(target, text)
        return file

    def reference(self, index: int, width: int, height: int, look: Look) -> NDArray[np.uint8]:
        """(h, w, 3) of a reference inside width x height, converted to the signal that the page shows of ``look``.

        Raises :class:`LookwrightError` for a number there is none of, or a file that cannot be read.
        """
        if not 0 <= index < len(self._references):
            raise LookwrightError("reference", f"number {index + 1}", f"1 to {len(self._references)}")
        still = self._still(index)
        scale = min(width / still.width, height / still.height, 1.0)
        size = max(1, round(still.width * scale)), max(1, round(still.height * scale))
        pixels = smaller(np.ascontiguousarray(still.pixels, np.float32), *size)
        shown, screen = on_screen(look)
        own = Signal.named(self._encoding) if self._encoding else shown.output.signal()
        out = np.asarray(pixels, np.float64)
        if own == screen.signal:
            pass
        elif own == shown.output.signal():
            for op in screen.after:
                out = op(out)
        else:
            out = screen.signal.from_light(np.clip(own.to_light(out), 0.0, None))
        return np.rint(np.clip(out, 0.0, 1.0) * 255.0).astype(np.uint8)

    def _still(self, index: int) -> Still:
        with self._lock:
            if index in self._stills:
                return self._stills[index]
        still = read(self._references[index])
        with self._lock:
            self._stills[index] = still
            while len(self._stills) > 2:
                self._stills.popitem(last=False)
        return still
