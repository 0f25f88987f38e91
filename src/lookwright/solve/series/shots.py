"""The run over a series: each still against the anchor, its CDL, and the drift before and after."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from math import isfinite
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.measure.levels import display_light
from lookwright.assess.measure.poles import poles
from lookwright.colour.luma import luma_percent
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, MarksError
from lookwright.look.baking.viewing import View
from lookwright.lut.formats.cdl import Correction
from lookwright.names import unique
from lookwright.pictures.stills import Mark, Still, marks_for, read, region
from lookwright.words import listed

from .as_cdl import Expressed, express, few
from .content import Parts, by_content, quietly
from .difference import Difference
from .match import Match, match_frame, match_marks, sampled, weigh
from .through import Link, through

T = TypeVar("T")
Span = tuple[float, float]
"""A part of a clip: seconds from its first frame, where it begins and where it ends."""


@dataclass(frozen=True)
class Tolerance:
    """How far a shot may stay from the anchor after matching."""

    stops: float = 0.1
    """A tenth of a stop is about the smallest step of light seen across a cut (common practice, no source)."""
    mired: float = 5.0
    """About one just noticeable step of colour temperature (5.5 mired, Judd 1932, from memory)."""


@dataclass(frozen=True)
class Colour:
    """What the graded picture shows: for the report, not for the match."""

    separation: float
    """Distance of the warm and cool parts in Oklab a, b."""
    skin_hue_deg: float | None
    skin_level: float | None
    """Percent signal of the skin mark; None without one."""


@dataclass(frozen=True)
class Shot:
    """One still of the series."""

    shot: str
    path: str
    match: Match
    expressed: Expressed
    after: Difference
    """How the corrected still, as the CDL makes it, still differs from the anchor."""
    before_colour: Colour
    after_colour: Colour
    inside: bool
    """Within the tolerance after matching."""
    span: Span | None = None
    """The part of a clip that it is; None for a still or a whole clip."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON; a part that ends with its clip ends at None."""
        told = asdict(self)
        if self.span is not None:
            told["span"] = [v if isfinite(v) else None for v in self.span]
        return told

    def sentence(self) -> str:
        """One line for a person."""
        m = self.match
        if m.by == "anchor":
            return f"{self.shot}: the anchor"
        if m.changed:
            word = {"changed": "changed", "unknown": "not known"}[m.state]
            seen = f" (compared with {listed(m.compared)})" if m.compared else ""
            return f"{self.shot}: {word}, not matched; {m.changed}{seen}"
        if m.by == "content":
            sure = f"give or take {m.stops_error:.2f} stop and {m.mired_error:.1f} mired"
            how = f"by what {listed(m.compared)} show as well, {sure}"
        elif m.by == "clip":
            how = f"by {listed(m.compared)}, from which the clip leads here"
        else:
            how = f"by its {m.by}, confidence {m.confidence:.2f}"
        state = "matched" if self.inside else "still outside the tolerance"
        note = f" ({m.note})" if m.note else ""
        return f"{self.shot}: was {m.difference.in_words()}; {how}; now {self.after.in_words()}: {state}{note}"


class Anchor:
    """The still that the others are brought to."""

    def __init__(self, still: Still, signal: Signal, marks: Sequence[Mark]) -> None:
        scene = signal.to_scene(still.pixels)
        self.signal = signal
        self.samples = sampled(scene)
        self.marks = _medians(scene, marks)

    def match(self, scene: Array, marks: Sequence[Mark], by: str = "") -> Match:
        """How scene light (H, W, 3) of another still differs.

        By marks where both have usable ones that agree, else by the frame; ``by`` names one of the two.
        """
        by_marks = None
        if marks and by != "frame":
            by_marks = match_marks(self.marks, _medians(scene, marks), {m.name: m.role for m in marks})
        if by_marks is not None and by == "marks":
            return by_marks
        by_frame = match_frame(self.samples, sampled(scene))
        return by_frame if by_marks is None else weigh(by_marks, by_frame)


def _medians(scene: Array, marks: Sequence[Mark]) -> dict[str, Array]:
    return {m.name: np.median(region(scene, m).reshape(-1, 3), axis=0) for m in marks}


def one_shot(
    path: Path,
    shot: str,
    anchor: Anchor,
    marks: Sequence[Mark],
    tolerance: Tolerance,
    view: View | None,
    match: Match,
) -> Shot:
    """Express a match as a CDL, and measure what it makes of the still. Holds one still in memory at a time."""
    still = read(path)
    signal = anchor.signal
    expressed = express(match.difference, signal, few(still.pixels))
    if match.difference == Difference():
        after, corrected = Difference(), still.pixels
    else:
        corrected = np.asarray(expressed.cdl(np.asarray(still.pixels, np.float64)), np.float32)
        after = _after(anchor, still, corrected, marks, match)
    inside = not match.changed and abs(after.stops) <= tolerance.stops and abs(after.mired) <= tolerance.mired
    return Shot(
        shot,
        str(path),
        match,
        expressed,
        after,
        _colour(still.pixels, signal, marks, view),
        _colour(corrected, signal, marks, view),
        inside,
    )


def _after(anchor: Anchor, still: Still, corrected: NDArray[Any], marks: Sequence[Mark], match: Match) -> Difference:
    """How the corrected still differs from the anchor; where only shared surfaces could tell, from the exact
    correction of the same still: what the CDL cannot say."""
    light = anchor.signal.to_scene(corrected)
    if match.by not in ("content", "clip"):
        return anchor.match(light, marks, match.by).difference
    exact = match.difference.undo(anchor.signal.to_scene(still.pixels))
    return match_frame(sampled(exact), sampled(light)).difference


def _colour(pixels: NDArray[Any], signal: Signal, marks: Sequence[Mark], view: View | None) -> Colour:
    small = np.ascontiguousarray(pixels[::4, ::4], np.float32)
    if view is not None and view.output.kind == "display":
        shown = view.graded(small)
        light, seen = view.output.to_light(shown), view.output
    else:
        light, seen, shown = display_light(small, signal), signal, small
    skin = next((m for m in marks if m.role == "skin"), None)
    hue = level = None
    if skin is not None:
        lab = light_to_oklab(region(light, skin).reshape(-1, 3).mean(axis=0))
        hue = float(np.degrees(np.arctan2(lab[2], lab[1])) % 360.0)
        level = float(np.median(luma_percent(region(shown, skin), seen)))
    return Colour(poles(light).colour_distance, hue, level)


def shot_ids(paths: Sequence[Path]) -> list[str]:
    """A unique id per still: its name without the ending, numbered where two are alike."""
    taken: set[str] = set()
    return [unique(p.stem, taken) for p in paths]


def run(
    paths: Sequence[Path],
    anchor_path: Path,
    signal: Signal,
    table: Mapping[str, list[Mark]],
    tolerance: Tolerance,
    view: View | None = None,
    workers: int = 1,
    parts: Parts = quietly,
    links: Sequence[Link] = (),
) -> Iterator[Shot | LookwrightError]:
    """Every still in order; a still that cannot be read gives its fault instead, and the rest go on.

    ``links`` join stills that are parts of one clip.
    ``parts`` is told of each part of the work as it begins, and gives a function that is told of its pieces.

    Raises :class:`LookwrightError` when the anchor itself cannot be used.
    """
    if signal.kind != "scene":
        raise LookwrightError(
            "series",
            f"the stills are {signal.encoding.name}, which carries display light",
            "a scene or log encoding",
            "match before the look, on the camera's own signal",
        )
    anchor = Anchor(read(anchor_path), signal, marks_for(table, anchor_path))
    same = anchor_path.resolve()
    ids = shot_ids(paths)

    def first(path: Path) -> Match | LookwrightError:
        marks = marks_for(table, path)
        if path.resolve() == same:
            return Match(Difference(), "anchor", 1.0, 0.0, "", tuple(m.name for m in marks))
        return anchor.match(signal.to_scene(read(path).pixels), marks)

    def second(item: tuple[Path, str, Match | LookwrightError]) -> Shot | LookwrightError:
        path, shot, match = item
        if isinstance(match, LookwrightError):
            return match
        return one_shot(path, shot, anchor, marks_for(table, path), tolerance, view, match)

    matches = list(_ahead(first, paths, workers, parts("reading", len(paths))))
    matches = through(paths, ids, by_content(paths, ids, anchor_path, signal, matches, parts), links)
    yield from _ahead(second, list(zip(paths, ids, matches, strict=True)), workers, parts("matching", len(paths)))


def _ahead(
    work: Callable[[Any], T | LookwrightError],
    items: Sequence[Any],
    workers: int,
    each: Callable[[int], None] = lambda done: None,
) -> Iterator[T | LookwrightError]:
    """Results in order, by threads; faults of single items among them. A few ahead of the reader at most, so that
    memory does not grow with the series."""

    def kept(item: Any) -> T | LookwrightError:
        try:
            return work(item)
        except MarksError:
            raise
        except LookwrightError as exc:
            return exc

    if workers == 1:
        for item in items:
            yield kept(item)
            each(1)
        return
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(workers) as pool:
        pending = []
        for item in items:
            pending.append(pool.submit(kept, item))
            if len(pending) > 2 * workers:
                yield pending.pop(0).result()
                each(1)
        for future in pending:
            yield future.result()
            each(1)


def corrections(shots: Sequence[Shot], signal: Signal) -> list[Correction]:
    """The CDL of each shot under its id, with words that say what to feed it."""
    words = (f"Feed it {signal.describe()}, before the look. Not clamped.",)
    return [replace(s.expressed.cdl, id=s.shot, words=words) for s in shots]
