"""From files to samples and goals: every picture is read once, sampled, and let go."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from lookwright.arrays import Array, Pixels
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, MarksError, PictureError, did_you_mean
from lookwright.pictures.stills import CodedStill, Mark, Still, marks_for, read_either, region

from .goals import Goal, Levels, Pairs, Separation, Target
from .model import UNITS
from .reference import Likeness
from .samples import sampled, sampled_still, shared, thumbnail
from .wishes import Wishes, check_goals

__all__ = ["Gathered", "Wishes", "check_goals", "check_pair", "gather"]

MARK_SAMPLES = 121
"""Pixels taken of a mark: the median of a box with one unit of noise is then good to a tenth of it."""
PART_SAMPLES = 400
"""Most pixels of all marks of one role together."""
WHOLE_SHARE = 0.25
"""Weight of the frames as wholes where marked parts can be compared with their like."""
SAME_FRAME = 0.4
"""Rank correlation of tones under which two pictures are not taken for one frame, graded and ungraded (our choice; a
grade keeps the order of tones: the looks of this project give 0.95 and more on their stills)."""


@dataclass
class Gathered:
    """Samples and goals, ready for a model."""

    codes: Array
    goals: list[Goal]
    still_parts: list[tuple[Path, slice]]
    """Where each still's grid lies in ``codes``."""
    thumbnails: list[tuple[str, Pixels]] = field(default_factory=list)
    """(name, source code values) of stills or of ungraded frames."""
    reference_thumbnails: list[tuple[str, Pixels]] = field(default_factory=list)
    """(name, code values in the reference encoding)."""
    notes: list[str] = field(default_factory=list)


@dataclass
class _Read:
    """What is kept of one picture."""

    path: Path
    size: tuple[int, int]
    grid: Array
    marked: list[tuple[Mark, Array]]
    small: Pixels | None


def gather(wishes: Wishes, output: Signal, advance: Callable[[int], None] = lambda n: None) -> Gathered:
    """Read every picture once and lay out the goals.

    Raises
    ------
    LookwrightError
        No goal; a goal without the stills it needs; a pair of different sizes or of different frames; a level for a
        mark that no still has; marked parts with nothing in common; a reference that is not a display picture.
    """
    check_goals(wishes)
    target = Signal.named(wishes.reference_encoding) if wishes.reference_encoding else output
    if target.kind != "display":
        raise LookwrightError(
            "--reference-encoding",
            f"{target.encoding.name!r} carries scene light",
            "a display encoding such as 'BT.1886' or 'sRGB'",
        )
    stills, references, pairs = _pictures(wishes, advance)
    layout = _Layout()
    found = Gathered(np.zeros((0, 3)), [], [])
    for s in stills:
        found.still_parts.append((s.path, layout.add(s.grid)))
    whole = slice(0, layout.count)
    if pairs:
        found.goals.append(_pairs(pairs, layout, target, wishes))
    if references:
        found.goals += _likeness(stills, references, layout, whole, target, wishes)
    levels = _levels(stills, layout, output, wishes)
    if levels is not None:
        found.goals.append(levels)
    if wishes.separation is not None:
        found.goals.append(Separation(whole, wishes.separation, wishes.weights.get("separation", 1.0)))
    found.codes = layout.codes()
    before = stills or pairs[::2]
    found.thumbnails = [(s.path.stem, s.small) for s in before if s.small is not None]
    after = references or pairs[1::2]
    found.reference_thumbnails = [(s.path.stem, s.small) for s in after if s.small is not None]
    return found


def _pictures(wishes: Wishes, advance: Callable[[int], None]) -> tuple[list[_Read], list[_Read], list[_Read]]:
    """Stills, references, and the frames of pairs in turn, each read once."""
    per_still = shared(wishes.samples, len(wishes.stills)) if wishes.stills else []
    per_reference = shared(wishes.samples, len(wishes.references)) if wishes.references else []
    per_pair = shared(wishes.samples, len(wishes.pairs)) if wishes.pairs else []

    def still_marks(path: Path) -> list[Mark]:
        return [*marks_for(wishes.marks, path), *wishes.own_marks]

    jobs: list[tuple[Path, int, list[Mark], bool]] = []
    jobs += [(p, n, still_marks(p), True) for p, n in zip(wishes.stills, per_still, strict=True)]
    jobs += [(p, n, marks_for(wishes.marks, p), True) for p, n in zip(wishes.references, per_reference, strict=True)]
    for (a, b), n in zip(wishes.pairs, per_pair, strict=True):
        jobs += [(a, n, [], True), (b, n, [], True)]

    def one(job: tuple[Path, int, list[Mark], bool]) -> _Read:
        found = _read(read_either(job[0]), job[1], job[2], wishes.seed, wishes.pictures)
        advance(1)
        return found

    # Decoding releases the interpreter; two at a time use both cores and bound memory.
    with ThreadPoolExecutor(2) as pool:
        pictures = list(pool.map(one, jobs))
    first, second = len(wishes.stills), len(wishes.stills) + len(wishes.references)
    return pictures[:first], pictures[first:second], pictures[second:]


class _Layout:
    """Blocks of samples, one after the other."""

    def __init__(self) -> None:
        self._blocks: list[Array] = []
        self.count = 0

    def add(self, block: Array) -> slice:
        start = self.count
        self._blocks.append(block)
        self.count += len(block)
        return slice(start, self.count)

    def codes(self) -> Array:
        return np.concatenate(self._blocks)


def _read(still: Still | CodedStill, count: int, marks: Sequence[Mark], seed: int, keep: bool) -> _Read:
    marked = []
    for mark in marks:
        box = region(still, mark)
        few = min(MARK_SAMPLES, box.shape[0] * box.shape[1])
        marked.append((mark, sampled(box, few, seed)))
    return _Read(
        still.path,
        (still.width, still.height),
        sampled_still(still, count, seed),
        marked,
        thumbnail(still.pixels) if keep else None,
    )


def _lab(code: Array, signal: Signal) -> Array:
    return UNITS * light_to_oklab(signal.to_light(code))


def _pairs(read_pairs: Sequence[_Read], layout: _Layout, target: Signal, wishes: Wishes) -> Pairs:
    start = layout.count
    targets = []
    for before, after in zip(read_pairs[::2], read_pairs[1::2], strict=True):
        where = f"--pair {before.path} {after.path}"
        _same_size(where, before.size, after.size)
        order = rank_correlation(before.grid.mean(axis=1), after.grid.mean(axis=1))
        if order < SAME_FRAME:
            raise PictureError(
                where,
                f"these are not one frame, graded and ungraded: their tones run together by {order:.2f} of 1",
                f"{SAME_FRAME:g} or more",
                "for a frame of other content use --reference",
            )
        layout.add(before.grid)
        targets.append(_lab(after.grid, target))
    return Pairs(slice(start, layout.count), np.concatenate(targets), wishes.weights.get("pairs", 1.0))


def check_pair(before: Still, after: Still) -> None:
    """Refuse two stills of different sizes."""
    where = f"--pair {before.path} {after.path}"
    _same_size(where, (before.width, before.height), (after.width, after.height))


def _same_size(where: str, one: tuple[int, int], two: tuple[int, int]) -> None:
    if one != two:
        sizes = [f"{w}x{h}" for w, h in (one, two)]
        raise PictureError(
            where, f"{sizes[0]} against {sizes[1]} pixels", "the same frame twice, at one size", "export both alike"
        )


def rank_correlation(a: Array, b: Array) -> float:
    """Spearman's rank correlation of (n,) and (n,), 1 for flat pictures (they cannot be told apart)."""
    if np.ptp(a) < 1e-6 or np.ptp(b) < 1e-6:
        return 1.0
    one, two = (np.unique(v, return_inverse=True)[1].astype(np.float64) for v in (a, b))
    return float(np.corrcoef(one, two)[0, 1])


def _likeness(
    stills: Sequence[_Read],
    references: Sequence[_Read],
    layout: _Layout,
    whole: slice,
    target: Signal,
    wishes: Wishes,
) -> list[Goal]:
    weight = wishes.weights.get("reference", 1.0)
    theirs, mine = _by_role(references), _by_role(stills)
    wanted = _lab(np.concatenate([r.grid for r in references]), target)
    if not theirs:
        return [Likeness(whole, wanted, weight)]
    common = [role for role in mine if role in theirs]
    if not common:
        raise MarksError(
            "marks of stills and reference",
            f"no part in common: {', '.join(mine) or 'none'} against {', '.join(theirs)}",
            hint="mark the same roles in both, or leave the reference's marks out to compare the frames as wholes",
        )
    goals: list[Goal] = [Likeness(whole, wanted, weight * WHOLE_SHARE)]
    share = weight * (1.0 - WHOLE_SHARE) / len(common)
    for role in common:
        part = layout.add(_few(mine[role]))
        goals.append(
            Likeness(
                part,
                _lab(_few(theirs[role]), target),
                share,
                name=f"reference, {role}",
                words=f"distance to the reference's {role} (sliced quantiles in Oklab x 100, root mean square)",
                pieces=12.0,
                poles=False,
            )
        )
    return goals


def _by_role(pictures: Sequence[_Read]) -> dict[str, Array]:
    found: dict[str, list[Array]] = {}
    for picture in pictures:
        for mark, pixels in picture.marked:
            if mark.role:
                found.setdefault(mark.role, []).append(pixels)
    return {role: np.concatenate(blocks) for role, blocks in found.items()}


def _few(pixels: Array) -> Array:
    step = -(-len(pixels) // PART_SAMPLES)
    return pixels[::step]


def _levels(stills: Sequence[_Read], layout: _Layout, output: Signal, wishes: Wishes) -> Levels | None:
    names = [m.name for s in stills for m, _ in s.marked]
    for name in wishes.levels:
        if name not in names:
            hint = did_you_mean(name, dict.fromkeys(names)) if names else "say where it is with --mark or --marks"
            raise MarksError("--level", f"no mark {name!r} on these stills", hint=hint)
    start = layout.count
    targets = []
    for s in stills:
        for mark, pixels in s.marked:
            level = wishes.levels.get(mark.name, mark.level)
            if level is not None:
                block = layout.add(pixels)
                part = slice(block.start - start, block.stop - start)
                targets.append(Target(s.path.stem, mark.name, level, part, mark.role == "silhouette"))
    if not targets:
        if wishes.stills and not (wishes.pairs or wishes.references or wishes.separation is not None):
            raise MarksError(
                "marks",
                "none of these stills has a mark with a level",
                hint="a still's marks stand under the stem of its file name; set levels with level = or --level",
            )
        return None
    return Levels(slice(start, layout.count), output, tuple(targets), wishes.weights.get("levels", 1.0))
