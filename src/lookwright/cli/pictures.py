"""Writing preview pictures in the layouts the command line offers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..sheets.layouts import Frame, contact, pair, wipe
from ..stills import profile_for, read, write

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ..lut.viewing import View

    Pixels = NDArray[np.float32]


def write_previews(
    view: View,
    name: str,
    paths: list[Path],
    out: Path,
    layout: str,
    suffix: str,
    at: float,
    advance: Callable[[int], None],
) -> list[Path]:
    """Grade ``paths`` one at a time and write them into ``out``; returns the files written.

    Raises :class:`PictureError` for a still that cannot be read, :class:`OutputError` for a target that cannot be
    written; files finished before that stay.
    """
    graded_words = view.look.title or name
    plain_words = "plain rendering"
    written: list[Path] = []
    frames: list[Frame] = []
    taken: set[str] = set()
    for path in paths:
        still = read(path)
        after = view.graded(still.pixels)
        target = out / f"{_unique(path.stem, taken)}-{name}{'' if layout == 'graded' else '-' + layout}.{suffix}"
        if layout == "sheet":
            frames.append(Frame(thumbnail(after), path.stem))
        elif layout == "graded":
            save(target, after, view, still.alpha)
            written.append(target)
        else:
            before = Frame(view.plain(still.pixels), plain_words)
            heading = f"{path.stem}: {view.output.encoding.name}"
            shown = Frame(after, graded_words)
            picture = pair(before, shown, heading) if layout == "pair" else wipe(before, shown, heading, at)
            save(target, picture, view)
            written.append(target)
        advance(1)
    if layout == "sheet":
        target = out / f"{name}-sheet.{suffix}"
        save(target, contact(frames, f"{graded_words}: {view.output.describe()}"), view)
        written.append(target)
    return written


def save(target: Path, pixels: Pixels, view: View, alpha: Pixels | None = None) -> None:
    """Write with the output's ICC profile where there is one and the format holds it."""
    icc = profile_for(view.output.encoding.name, view.output.primaries.name)
    text = f"{view.look.title}: {view.output.describe()}" + ("" if icc else ", no ICC profile for this encoding")
    suffix = target.suffix.lower()
    write(
        target,
        pixels,
        alpha=alpha if suffix != ".jpg" else None,
        icc=icc,
        metadata={"description": text, "software": "lookwright"},
    )


def thumbnail(pixels: Pixels, width: int = 640) -> Pixels:
    from ..sheets.canvas import fitted, from_image, to_image

    return from_image(fitted(to_image(pixels), width))


def _unique(stem: str, taken: set[str]) -> str:
    name, n = stem, 2
    while name in taken:
        name, n = f"{stem}-{n}", n + 1
    taken.add(name)
    return name
