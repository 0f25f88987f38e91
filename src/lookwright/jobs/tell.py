"""A look told in pictures on stills: each step before and after, where it acts, its curves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from lookwright.errors import WrongUse
from lookwright.files import check_target
from lookwright.pictures.stills import find_stills, read
from lookwright.present.sheets.look_page import MOST_STILLS, LookPage

from .doubts import Doubts
from .given import SignalName
from .job import job
from .looks import load_look
from .progress import SILENT, Progress, part


@dataclass(frozen=True)
class Moved:
    """What one step changed on one still."""

    step: int
    """Its number, from 1."""
    kind: str
    still: str
    mean: float
    """CIEDE2000 against the picture before it."""
    largest: float
    """The 99th percentile."""
    seen_percent: float
    """Of the picture, what changed by more than 1."""
    lightness: float
    """Mean change of L*."""
    chroma: float
    """Mean change of C*ab."""


@dataclass(frozen=True)
class Told:
    """What the page tells, in figures."""

    moved: list[Moved]
    """Each step on each still."""
    doubts: dict[str, list[str]]
    """By name of a still: signs that it is not the signal the look is fed."""


@job(html="page")
def tell_look(
    look: Path,
    stills: Sequence[Path],
    html: Path,
    strength: float | None = None,
    source: SignalName | None = None,
    progress: Progress = SILENT,
) -> Told:
    """Write the page of a look, and give what each step changed on each still.

    Parameters
    ----------
    look
        A look file.
    stills
        Pictures, or folders of them, in the look's source signal: at most six.
    html
        The page: one file that needs nothing else.
    source
        In place of the look's own.

    Raises
    ------
    LookwrightError
        For a file that cannot be read, used or written, or too many stills.
    Cancelled
        Through ``progress``; nothing is written.
    """
    paths = find_stills(stills)
    if len(paths) > MOST_STILLS:
        raise WrongUse(f"{len(paths)} stills are too many for one page: name at most {MOST_STILLS}")
    model, _ = load_look(look, strength, source)
    page = LookPage(model)
    check_target(html)
    advance = part(progress, "telling", len(paths))
    doubts = Doubts(paths, model.source.signal())
    for path in paths:
        still = read(path)
        doubts(still)
        page.add(still)
        advance(1)
    page.write(html, progress.check)
    moved = [
        Moved(
            index + 1,
            model.steps[index].kind,
            still,
            *(round(n, 3) for n in (e.mean, e.largest, e.seen, e.lightness, e.chroma)),
        )
        for still, effects in page.effects
        for index, e in zip(page.telling.places, effects, strict=True)
    ]
    return Told(moved, doubts.sorted())
