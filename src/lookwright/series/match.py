"""Finding how a still differs from the anchor: from marks, or from the whole frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .difference import HIGH, LOW, Difference
from .solve import solve

Array = NDArray[np.float64]

SCALE = np.array([0.5, 30.0, 0.005, 0.002])
"""Changes of like size to the eye: half a stop, 30 mired, Duv 0.005, flare at a sixth of a per cent of white."""

PRIOR = np.array([0.0, 0.0, 0.02, 0.01])
"""Weight of the pull toward zero, per SCALE: none on what takes differ in, a little on what they seldom do."""

ROLE_WEIGHT = {
    "grey": 2.0, "white": 1.0, "black": 1.0, "ambient": 1.0, "wall": 1.0, "skin": 0.7, "key": 0.7, "fill": 0.7,
}  # fmt: skip
"""A grey card is made to be matched by; skin moves with pose. Lamps and sky are left out: they clip."""

SAME_LIGHT = 0.30
"""Stops (root mean square over marks) left after the best correction, above which the light itself has changed: about
a third of a stop, the step that lamps and lenses are set in (common practice, no source)."""

SAME_FRAME = 0.12
"""The same over the quantiles of whole frames. Lower, because quantiles hide local changes: two set-ups of one room
may come within 0.2."""

CAPS = {"marks": (3.0, 150.0, 0.015), "frame": (1.5, 100.0, 0.01)}
"""Largest correction in stops, mired and Duv that each kind of evidence may ask for."""


@dataclass(frozen=True)
class Match:
    """One still against the anchor."""

    difference: Difference
    by: str
    """``marks``, ``frame`` or ``anchor``."""
    confidence: float
    """0..1: how well the corrected still agrees with the anchor."""
    left: float
    """Stops, root mean square, that the correction could not explain."""
    changed: str
    """Why this still is not the anchor's scene or light; empty when it is. Nothing is corrected then."""
    marks: tuple[str, ...] = ()
    """Names of the marks that were used."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)


def in_stops(scene: Array) -> Array:
    """Stops above a floor of 1/1024 of white: log2(light + floor) flattens into the noise without a step."""
    return np.log2(np.maximum(scene, 0.0) + 1.0 / 1024.0)


def match_marks(
    anchor: Mapping[str, Array], still: Mapping[str, Array], roles: Mapping[str, str | None]
) -> Match | None:
    """Solve the difference from marks both frames have: (3,) median scene light by name.

    None when no usable mark is shared. Flare is solved only when the marks span two stops or more: a grey card
    alone cannot tell flare from exposure.
    """
    names = [n for n in still if n in anchor and ROLE_WEIGHT.get(roles.get(n) or "", 0.0) > 0.0]
    if not names:
        return None
    theirs, mine = np.array([anchor[n] for n in names]), np.array([still[n] for n in names])
    weight = np.sqrt([ROLE_WEIGHT[roles[n] or ""] for n in names])
    spread = np.ptp(in_stops(mine).mean(axis=1))
    difference, left = _solve(theirs, mine, weight[:, None], flare=len(names) >= 2 and bool(spread >= 2.0))
    return _judged(difference, left, "marks", SAME_LIGHT, tuple(names))


def match_frame(anchor: Array, still: Array) -> Match:
    """Solve the difference from samples (n, 3) of scene light of both frames, framed about alike.

    The channels' quantiles of the corrected still are compared with the anchor's, and so are those of the
    differences between channels, which carry the balance. Extremes are left out: lamps clip, and blacks are noise.
    """
    shares = np.linspace(0.04, 0.96, 47)

    def features(scene: Array) -> Array:
        stops = in_stops(scene)
        cross = np.stack([stops[:, 0] - stops[:, 1], stops[:, 2] - stops[:, 1]], axis=1)
        return np.concatenate([np.quantile(stops, shares, axis=0), np.quantile(cross, shares, axis=0)], axis=1)

    aim = features(anchor)

    def residual(values: Array) -> Array:
        gap = features(Difference.of(values).undo(still)) - aim
        # Soft-L1 (Charbonnier): a part of the frame that changed must not drag the rest.
        rooted = np.sign(gap) * np.sqrt(2.0 * (np.sqrt(1.0 + (gap / 0.25) ** 2) - 1.0)) * 0.25
        return np.concatenate([rooted.ravel() / np.sqrt(aim.size), PRIOR * values / SCALE * 0.2])

    best: tuple[float, Array] | None = None
    guess = float(np.clip(np.median(in_stops(anchor)) - np.median(in_stops(still)), -2.0, 2.0))
    for start in (np.zeros(4), np.array([guess, 0.0, 0.0, 0.0])):
        values, _ = solve(residual, start, LOW, HIGH, SCALE)
        cost = float(residual(values) @ residual(values))
        if best is None or cost < best[0]:
            best = (cost, values)
    assert best is not None
    difference = Difference.of(best[1])
    left = float(np.sqrt(np.mean((features(difference.undo(still)) - aim) ** 2)))
    return _judged(difference, left, "frame", SAME_FRAME, ())


def _solve(theirs: Array, mine: Array, weight: Array, flare: bool) -> tuple[Difference, float]:
    aim = in_stops(theirs)
    low, high = LOW.copy(), HIGH.copy()
    if not flare:
        low[3] = high[3] = 0.0

    def residual(values: Array) -> Array:
        gap = (in_stops(Difference.of(values).undo(mine)) - aim) * weight
        return np.concatenate([gap.ravel(), PRIOR * values / SCALE])

    values, _ = solve(residual, np.zeros(4), low, high, SCALE)
    difference = Difference.of(values)
    return difference, float(np.sqrt(np.mean((in_stops(difference.undo(mine)) - aim) ** 2)))


def _judged(difference: Difference, left: float, by: str, same: float, names: tuple[str, ...]) -> Match:
    """Caps, confidence, and whether this is the same scene in the same light at all."""
    stops, mired, tint = CAPS[by]
    confidence = float(np.clip(1.0 - left / (2.0 * same), 0.0, 1.0))
    if left > same:
        if by == "marks":
            why = f"the light is not the anchor's: its marks differ by {left:.2f} stops after the best correction"
        else:
            why = f"the frame is not the anchor's: {left:.2f} stops differ after the best correction; give it marks"
        return Match(Difference(), by, confidence, left, why, names)
    beyond = difference.beyond(stops, mired, tint)
    if beyond:
        why = "it is further from the anchor than takes of one scene are: " + ", ".join(beyond)
        return Match(Difference(), by, confidence, left, why, names)
    return Match(difference, by, confidence, left, "", names)


def sampled(scene: Array, most: int = 20_000) -> Array:
    """A regular grid of about ``most`` pixels of (H, W, 3), flattened; each the mean of its 3 x 3 neighbours.

    The mean keeps sensor noise from widening the quantiles of one take against those of another.
    """
    height, width = scene.shape[:2]
    every = max(1, int(np.sqrt(height * width / most)))
    block = min(3, every)
    h, w = height // every * every, width // every * every
    grid = scene[:h, :w].reshape(h // every, every, w // every, every, 3)[:, :block, :, :block]
    return np.asarray(grid.mean(axis=(1, 3)), np.float64).reshape(-1, 3)
