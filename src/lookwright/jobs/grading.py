"""One still graded into one picture, in the layouts that previews have."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from lookwright.look.baking.viewing import View
from lookwright.look.recipe.read import parse_look
from lookwright.memory import Turns
from lookwright.pictures.stills import CodedStill, Still, read, read_codes, size_of
from lookwright.present.sheets.layouts import Frame, pair, wipe
from lookwright.version import __version__

from .pictures import EIGHT_BITS, save

Layout = Literal["graded", "pair", "wipe", "sheet", "variants", "turns"]
Suffix = Literal["jpg", "webp", "png", "tif", "gif"]


@dataclass(frozen=True)
class Grading:
    """Everything that decides a preview but the still: plain data, so that it can travel to another machine."""

    recipe: str
    folder: str
    name: str
    strength: float
    size: int
    layout: Layout
    suffix: Suffix
    at: float

    @property
    def ending(self) -> str:
        """What the layout adds to the name of a file."""
        return "" if self.layout == "graded" else f"-{self.layout}"


@dataclass(frozen=True)
class Task:
    """One still to be graded."""

    grading: Grading
    still: str
    target: str
    heading: str


_building = threading.Lock()


@lru_cache(maxsize=4)
def _view(recipe: str, folder: str, name: str, strength: float, size: int) -> View:
    # One thread a picture: the pictures themselves are spread over the cores.
    return View(parse_look(recipe, name).with_folder(Path(folder)).with_strength(strength), size, threads=1)


def view_of(grading: Grading) -> tuple[View, str]:
    """The look made ready, once per process, and a digest of all that decides its pictures but the still."""
    with _building:
        view = _view(grading.recipe, grading.folder, grading.name, grading.strength, grading.size)
        digest = view.ready(plain=grading.layout in ("pair", "wipe"))
    return view, f"{__version__} {digest} {grading.layout} {grading.suffix} {grading.at}"


def grade(task: Task, notice: Callable[[Still | CodedStill], None] | None = None) -> None:
    """Grade one still into its target; ``notice`` is shown the still.

    Raises :class:`PictureError` for a still that cannot be read, :class:`OutputError` for a target that cannot be
    written.
    """
    with turn(task):
        _grade(task, notice)


def turn(task: Task) -> AbstractContextManager[None]:
    """Wait until there is memory for this still beside those that are being worked on."""
    width, height = size_of(task.still)
    # Bytes a pixel at most: the picture itself, what it becomes, and the encoder's copy.
    return _turns().of(width * height * (24 if task.grading.layout in ("graded", "sheet") else 72))


@lru_cache(maxsize=1)
def _turns() -> Turns:
    return Turns()


def _grade(task: Task, notice: Callable[[Still | CodedStill], None] | None) -> None:
    grading = task.grading
    view, _ = view_of(grading)
    if grading.layout == "graded" and f".{grading.suffix}" in EIGHT_BITS and _from_codes(task, view, notice):
        return
    still = read(Path(task.still))
    if notice is not None:
        notice(still)
    if grading.layout == "graded":  # where the still lay: a large one is held once
        save(Path(task.target), view.graded(still.pixels, no_nan=True, out=still.pixels), view, still.alpha)
        return
    after = view.graded(still.pixels, no_nan=True)
    before = Frame(view.plain(still.pixels, no_nan=True), "plain rendering")
    shown = Frame(after, view.look.title or grading.name)
    beside = grading.layout == "pair"
    picture = pair(before, shown, task.heading) if beside else wipe(before, shown, task.heading, grading.at)
    save(Path(task.target), picture, view)


def _from_codes(task: Task, view: View, notice: Callable[[Still | CodedStill], None] | None) -> bool:
    """Grade codes into codes, with no float picture between; False, and nothing done, for a still that has none."""
    coded = read_codes(Path(task.still))
    if coded is None:
        return False
    if notice is not None:
        notice(coded)
    save(Path(task.target), view.graded_codes(coded.codes), view)
    return True
