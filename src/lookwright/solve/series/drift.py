"""Drift and flicker inside a clip: how the light of each frame differs from the first, without boxes.

Frames are compared with those a little and far before them, camera moves are followed by phase correlation, and people
who move are outvoted. What is left splits into a slow curve, flicker about it, and sudden steps.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.linalg import solveh_banded

from lookwright.arrays import Array

from .difference import Difference
from .framelight import Between, FrameLight, compare, reduce
from .graph import levels
from .steps import Step, find_steps

LAGS = (1, 2, 5, 12, 30, 75)
"""Frames between the two of a comparison: short ones see every step, long ones keep errors from adding up."""

SLOW_SECONDS = 1.0
"""Period that the slow curve follows at half strength; what is quicker counts as flicker (our choice: an iris or a
cloud moves over seconds, lamps and shutters beat within one)."""


@dataclass(frozen=True)
class Drift:
    """How each frame of a clip differs from its first. Arrays of a number a frame; stops, and mired (positive warmer).

    ``stops``, ``mired``
        As measured. NaN where a frame has nothing in common with the others.
    ``slow_stops``, ``slow_mired``
        The slow curve; it breaks at every step.
    ``steps``
        Where the light or the exposure changes from one frame to the next: cut the clip there.
    """

    stops: Array
    mired: Array
    slow_stops: Array
    slow_mired: Array
    steps: tuple[Step, ...] = ()
    rate: float = 25.0
    unlike: tuple[int, ...] = field(default=())
    """Frames that share nothing with those before them: a cut inside the clip, a damaged or a black frame."""

    @property
    def flicker_stops(self) -> float:
        """Root mean square of exposure about its slow curve, with the share of it that the curve follows put back."""
        return _rms(self.stops - self.slow_stops) / _quick(self.rate)

    @property
    def flicker_mired(self) -> float:
        """The same of balance."""
        return _rms(self.mired - self.slow_mired) / _quick(self.rate)

    @property
    def span_stops(self) -> float:
        """How far the slow curve reaches, highest less lowest, steps included."""
        return float(np.nanmax(self.slow_stops) - np.nanmin(self.slow_stops))

    @property
    def span_mired(self) -> float:
        """The same of balance."""
        return float(np.nanmax(self.slow_mired) - np.nanmin(self.slow_mired))

    @property
    def parts(self) -> tuple[tuple[int, int], ...]:
        """The clip cut at its steps and where frames are unlike: first frame, and the one after the last."""
        marks = sorted({0, *(s.frame for s in self.steps), *self.unlike, len(self.stops)})
        return tuple((a, b) for a, b in itertools.pairwise(marks) if b > a)

    def part(self, first: int, end: int) -> Drift:
        """Frames ``first`` to before ``end`` as a clip of their own: each against the first of them."""
        base = np.nan_to_num([self.stops[first], self.mired[first]])
        return Drift(
            self.stops[first:end] - base[0],
            self.mired[first:end] - base[1],
            self.slow_stops[first:end] - base[0],
            self.slow_mired[first:end] - base[1],
            tuple(replace(s, frame=s.frame - first) for s in self.steps if first < s.frame < end),
            self.rate,
            tuple(u - first for u in self.unlike if first < u < end),
        )

    def between(self, one: int, other: int) -> Difference | None:
        """How the light of frame ``other`` differs from that of an earlier ``one`` by what the camera did and by drift.

        A lamp that was switched on the way is left out: it is another light. None where the clip shows another picture
        in between, or the frames are not known.
        """
        if any(one < u <= other for u in self.unlike):
            return None
        values = []
        for slow in (self.slow_stops, self.slow_mired):
            lamps = sum(
                slow[s.frame] - slow[s.frame - 1] for s in self.steps if s.kind == "light" and one < s.frame <= other
            )
            values.append(float(slow[other] - slow[one] - lamps))
        return Difference(*values) if np.isfinite(values).all() else None

    def keyframes(self, stops: float = 0.005, mired: float = 0.5) -> tuple[tuple[int, Difference], ...]:
        """Fewest frames, about, between which straight lines stay this close to the slow curve (Douglas, Peucker 1973).

        Each part of the clip begins and ends with one. The difference is against the clip's first frame.
        """
        keys: list[int] = []
        for first, end in self.parts:
            keys += _keys(self.slow_stops[first:end] / stops, self.slow_mired[first:end] / mired, first)
        return tuple((k, Difference(float(self.slow_stops[k]), float(self.slow_mired[k]))) for k in sorted(set(keys)))

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers, ready for JSON; a frame that is not known is None."""

        def plain(values: Array) -> list[float | None]:
            return [None if np.isnan(v) else round(float(v), 5) for v in values]

        return {
            "stops": plain(self.stops),
            "mired": plain(self.mired),
            "slow_stops": plain(self.slow_stops),
            "slow_mired": plain(self.slow_mired),
            "flicker_stops": self.flicker_stops,
            "flicker_mired": self.flicker_mired,
            "steps": [s.to_dict() for s in self.steps],
            "unlike": list(self.unlike),
        }


def drift(frames: Iterable[Array], rate: float = 25.0) -> Drift:
    """Measure a clip.

    Parameters
    ----------
    frames
        Scene light, linear ACEScg (H, W, 3), float, all of one size, in order. Each is reduced when it comes (some
        60 kB are kept of it), so a generator that decodes as it goes costs no memory. 480 pixels of width are enough.
    rate
        Frames a second, for what counts as slow.

    Raises
    ------
    ValueError
        Without a frame.
    """
    light = [reduce(f) for f in frames]
    if not light:
        raise ValueError("drift: no frame")
    return drift_of(light, rate)


def drift_of(light: Sequence[FrameLight], rate: float = 25.0) -> Drift:
    """The same from frames that :func:`~lookwright.solve.series.framelight.reduce` has made small."""
    count = len(light)
    neighbours = [compare(a, b) for a, b in itertools.pairwise(light)]
    edges, values, errors = _compared(light, neighbours)
    curve = levels(count, edges, values, errors) if edges else np.full((count, 2), np.nan)
    curve[0] = 0.0
    unlike = tuple(j for j, between in enumerate(neighbours, 1) if between is None)
    steps = find_steps(light, curve, neighbours)
    marks = sorted({0, *(s.frame for s in steps), *unlike, count})
    slow = np.full_like(curve, np.nan)
    for a, b in itertools.pairwise(marks):
        for k in range(2):
            slow[a:b, k] = _smooth(curve[a:b, k], rate)
    return Drift(curve[:, 0], curve[:, 1], slow[:, 0], slow[:, 1], tuple(steps), rate, unlike)


def _compared(
    light: Sequence[FrameLight], neighbours: Sequence[Between | None]
) -> tuple[list[tuple[int, int]], Array, Array]:
    edges: list[tuple[int, int]] = []
    values, errors = [], []
    for lag in LAGS:
        for j in range(lag, len(light)):
            found = neighbours[j - 1] if lag == 1 else compare(light[j - lag], light[j])
            if found is not None:
                edges.append((j - lag, j))
                values.append(found.values)
                errors.append(found.errors)
    return edges, np.array(values).reshape(-1, 2), np.array(errors).reshape(-1, 2)


def _smooth(curve: Array, rate: float) -> Array:
    """Whittaker's smoother with second differences (Whittaker 1923; Eilers 2003), half strength at SLOW_SECONDS."""
    known = np.isfinite(curve)
    if known.sum() < 4:
        return np.full(len(curve), np.median(curve[known])) if known.any() else curve.copy()
    stiff = _stiffness(rate)
    n = len(curve)
    bands = np.zeros((3, n))
    for offset, pattern in ((0, (1.0, 4.0, 1.0)), (1, (-2.0, -2.0)), (2, (1.0,))):
        for at, v in enumerate(pattern):
            bands[2 - offset, offset + at : offset + at + n - 2] += stiff * v
    bands[2] += known
    return np.asarray(solveh_banded(bands, np.where(known, curve, 0.0)))


def _stiffness(rate: float) -> float:
    return float((2.0 * np.sin(np.pi / max(SLOW_SECONDS * rate, 4.0))) ** -4)


def _quick(rate: float) -> float:
    """Share of the amplitude of noise, equal at all frequencies, that the smoother leaves out of the slow curve."""
    at = (2.0 * np.sin(np.pi * np.linspace(0.0, 0.5, 2001))) ** 4 * _stiffness(rate)
    return float(np.sqrt(np.mean((at / (1.0 + at)) ** 2)))


def _keys(stops: Array, mired: Array, first: int) -> list[int]:
    """Indices of a polyline within 1 of both curves."""
    keys, todo = {0, len(stops) - 1}, [(0, len(stops) - 1)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        share = np.arange(b - a + 1) / (b - a)
        gaps = [np.abs(c[a : b + 1] - (c[a] + share * (c[b] - c[a]))) for c in (stops, mired)]
        gap = np.nan_to_num(np.maximum(*gaps))
        worst = int(np.argmax(gap))
        if gap[worst] > 1.0:
            keys.add(a + worst)
            todo += [(a, a + worst), (a + worst, b)]
    return [first + k for k in keys]


def _rms(values: Array) -> float:
    known = values[np.isfinite(values)]
    return float(np.sqrt(np.mean(known**2))) if known.size else 0.0
