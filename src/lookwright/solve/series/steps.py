"""Where the light of a clip changes from one frame to the next: to the frame, and in which part of the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_opening, uniform_filter

from lookwright.arrays import Array

from .framelight import Between, FrameLight, compare
from .places import where

WINDOW = 8
"""Frames before and after a step over which it must last: a flash, or one flickering frame, is none."""

CELL_STEP = 0.06
"""Stops by which a cell's surroundings must change at once, to count as lit otherwise."""

CELL_SHARE = 0.04
"""Share of the frame that must be lit otherwise: a fifth by a fifth of it."""

LEAST = 0.1
"""Stops of mean change in that part: about the smallest step of light seen (common practice, no source)."""

SAME_SIGN = 0.6
"""Mean over mean size of the change in that part: a lamp lightens or darkens, what moves does both."""

STILL_NEAR, STILL_FAR = 0.5, 0.6
"""Share of a change of light that may come and go within three frames before it or after it, and on both sides
together, on average, within six. Lamps leave up to .3 and .4, with somebody walking through their light; of walkers
taken for lamps one side has .8 and more, or both have 1 (measured on the clips of tests/shared/moving.py)."""

EXPOSURE_STEP = 0.08
"""Stops by which the whole frame must change at once: near the smallest seen across a cut."""

BALANCE_STEP = 6.0
"""Mired, the same: one just noticeable step."""


@dataclass(frozen=True)
class Step:
    """A sudden change: ``frame`` is the first of the new light."""

    frame: int
    kind: str
    """``light``: part of the picture is lit otherwise. ``exposure``: all of it changed alike."""
    stops: float
    """Mean change of that part, or of the whole."""
    mired: float
    where: str
    """In words, e.g. ``on the left``."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)


def find_steps(light: Sequence[FrameLight], curve: Array, neighbours: Sequence[Between | None]) -> list[Step]:
    """The steps of a clip; ``curve`` (n, 2) is the measured exposure and balance of each frame, ``neighbours`` (n - 1)
    each frame compared with the one before it.

    At a step the field of differences between neighbouring frames is large, stands out from that of the frames round
    it (which people and the camera move), and is still there between the frames before and those after.
    """
    fields = _sudden([_field(between) for between in neighbours])
    size = np.array([_strength(f) for f in fields])
    found = []
    for n in range(len(fields)):
        near = np.r_[size[max(n - WINDOW, 0) : n], size[n + 1 : n + 1 + WINDOW]]
        usual = float(np.median(near)) if near.size else 0.0
        if size[n] >= CELL_SHARE * LEAST + 3.0 * usual and size[n] == size[max(n - 2, 0) : n + 3].max():
            step = _lasting(light, fields[n], n + 1)
            if step is not None:
                found.append(step)
    return sorted([*found, *_exposures(curve, {s.frame for s in found})], key=lambda s: s.frame)


def _sudden(fields: Sequence[Array | None]) -> list[Array | None]:
    """Each field less the mean of those beside it: people and cameras move on, a lamp is switched once."""
    out = []
    for n, field in enumerate(fields):
        beside = [f for f in (*fields[max(n - 1, 0) : n], *fields[n + 1 : n + 2]) if f is not None]
        if field is not None and beside:
            field = field - np.nan_to_num(np.mean([np.nan_to_num(f) for f in beside], axis=0))
        out.append(field)
    return out


def _field(between: Between | None) -> Array | None:
    """(h, w) stops by which the light changed, in wide means; less what all of the picture did alike.

    Where more of the picture did not change at all than changed alike, nothing is taken off.
    """
    if between is None:
        return None
    field = _wide(between.residual)
    raw = field + between.values[0]
    still, alike = (np.mean(np.nan_to_num(np.abs(f), nan=9.0) < CELL_STEP) for f in (raw, field))
    return raw if still > alike else field


def _wide(residual: Array) -> Array:
    """Means of surroundings of some 7 cells: edges that moved cancel, light does not. NaN where little is known."""
    known = np.isfinite(residual)
    share = uniform_filter(known.astype(np.float64), 7, mode="constant")
    total = uniform_filter(np.where(known, np.clip(residual, -2.0, 2.0), 0.0), 7, mode="constant")
    return np.where(share > 0.3, total / np.maximum(share, 1e-6), np.nan)


def _strength(field: Array | None) -> float:
    """Mean change of the parts that changed, over the whole frame and with its sign: moves cancel, light does not."""
    if field is None:
        return 0.0
    known, lit = np.nan_to_num(field), _lit(field)
    return abs(float(known[lit].sum())) / known.size if lit.mean() >= CELL_SHARE else 0.0


def _lit(field: Array) -> NDArray[np.bool_]:
    """Cells lit otherwise, without what is narrower than 11 cells: edges of what moves are."""
    return binary_opening(np.nan_to_num(np.abs(field)) > CELL_STEP, np.ones((11, 11)))


def _lasting(light: Sequence[FrameLight], field: Array | None, frame: int) -> Step | None:
    """The step at ``frame`` if most of its field is there between other frames before and after as well, and little of
    it between those on one side: what walks on goes on changing the light."""
    assert field is not None  # it has a strength
    lit = _lit(field)
    strengths = _shares(
        light, field, lit, [(frame - back, frame + on) for back, on in ((2, 1), (3, 2), (1, 3), (4, 4))]
    )
    if not strengths or np.median(strengths) < 0.6:  # one frame at the end may be a flash
        return None
    near = _shares(light, field, lit, [(frame - 4, frame - 1), (frame, frame + 3)])
    far = _shares(light, field, lit, [(frame - 7, frame - 1), (frame, frame + 6)])
    if np.max(np.abs(near), initial=0.0) > STILL_NEAR or (far and np.mean(np.abs(far)) > STILL_FAR):
        return None
    mean = float(np.mean(field[lit]))
    if abs(mean) < max(SAME_SIGN * float(np.mean(np.abs(field[lit]))), LEAST):
        return None
    return Step(frame, "light", mean, 0.0, where(lit))


def _shares(
    light: Sequence[FrameLight], field: Array, lit: NDArray[np.bool_], pairs: Sequence[tuple[int, int]]
) -> list[float]:
    """How much of a field lies between two other frames each, as far as there are such; 1: all of it."""
    found = []
    for one, two in pairs:
        other = _field(compare(light[one], light[two])) if one >= 0 and two < len(light) else None
        if other is not None:
            a, b = field[lit], np.nan_to_num(other)[lit]
            found.append(float((a * b).sum() / (a * a).sum()))
    return found


def _exposures(curve: Array, taken: set[int]) -> list[Step]:
    """Steps of the whole frame that last."""
    found = []
    for n in range(1, len(curve)):
        if any(m in taken for m in range(n - 1, n + 2)):
            continue
        before, after = curve[max(n - WINDOW, 0) : n], curve[n : n + WINDOW]
        if min(len(before), len(after)) < 2 or not (np.isfinite(before).all() and np.isfinite(after).all()):
            continue
        step = curve[n] - curve[n - 1]
        jump = np.median(after, axis=0) - np.median(before, axis=0)
        noise = np.maximum(_jitter(before), _jitter(after))
        for size, k in ((EXPOSURE_STEP, 0), (BALANCE_STEP, 1)):
            if abs(step[k]) >= size + 4.0 * noise[k] and jump[k] / step[k] > 0.6:
                found.append(Step(n, "exposure", float(step[0]), float(step[1]), "everywhere"))
                break
    return found


def _jitter(curve: Array) -> Array:
    """Mean size of the change from frame to frame."""
    return np.abs(np.diff(curve, axis=0)).mean(axis=0)
