"""Finding how a still differs from the anchor: from marks, or from the whole frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from lookwright.arrays import Array

from .difference import HIGH, LOW, Difference
from .solve import solve

SCALE = np.array([0.5, 30.0, 0.005, 0.002])
"""Changes of like size to the eye: half a stop, 30 mired, Duv 0.005, flare at a sixth of a per cent of white."""

PRIOR = np.array([0.0, 0.0, 0.02, 0.01])
"""Weight of the pull toward zero, per SCALE: none on what takes differ in, a little on what they seldom do."""

ROLE_WEIGHT = {
    "grey": 2.0,
    "white": 1.0,
    "black": 1.0,
    "ambient": 1.0,
    "wall": 1.0,
    "skin": 0.7,
    "key": 0.7,
    "fill": 0.7,
}
"""A grey card is made to be matched by; skin moves with pose. Lamps and sky are left out: they clip."""

SAME_LIGHT = 0.30
"""Stops (root mean square over marks) left after the best correction, above which the light itself has changed: about
a third of a stop, the step that lamps and lenses are set in (common practice, no source)."""

SAME_FRAME = 0.08
"""The same over the quantiles of whole frames. Lower, because quantiles hide local changes: takes with moved framing
leave up to 0.05 (dark, with noise), the other episode among the sample stills 0.065, a lamp added beside the wall
0.095."""

CERTAIN_MARKS = 0.06
"""Stops left up to which marks are believed without a look at the frame: noise and rounding leave 0.02."""

DOUBTFUL_MARKS = 0.1
"""Stops left above which marks alone are not enough to say that the light is the anchor's."""

USUAL_FLARE = 0.006
"""Veiling light, of a white of 1, up to which lenses and haze explain it. Few marks in a changed light are often
"explained" by more."""

CERTAIN_FRAME = 0.03
"""Stops left up to which a frame shows the same picture, whatever the marks say."""

CAPS = {"marks": (3.0, 150.0, 0.015), "frame": (1.5, 100.0, 0.01)}
"""Largest correction in stops, mired and Duv that each kind of evidence may ask for."""


@dataclass(frozen=True)
class Match:
    """One still against the anchor."""

    difference: Difference
    by: str
    """``marks``, ``frame``, ``content`` (surfaces that other shots show as well) or ``anchor``."""
    confidence: float
    """0..1: how well the corrected still agrees with the anchor."""
    left: float
    """Stops, root mean square, that the correction could not explain."""
    changed: str
    """Why this still is not the anchor's scene or light; empty when it is. Nothing is corrected then."""
    marks: tuple[str, ...] = ()
    """Names of the marks that were used."""
    note: str = ""
    """What a person should know about how this was found."""
    state: str = "matched"
    """``matched``; ``changed``: the light is another, and ``changed`` says what and where; ``unknown``: it says why."""
    stops_error: float | None = None
    """Standard error of the exposure, where it is known."""
    mired_error: float | None = None
    compared: tuple[str, ...] = ()
    """The shots that this one was compared with, where it was by ``content``."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)


FLOOR = 1.0 / 1024.0
"""Of white, added to light before its logarithm is taken: noise is flattened without a step."""


def log2_light(scene: Array) -> Array:
    """log2 of light and FLOOR."""
    return np.log2(np.maximum(scene, 0.0) + FLOOR)


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
    spread = np.ptp(log2_light(mine).mean(axis=1))
    difference, left = _solve(theirs, mine, weight[:, None], flare=len(names) >= 2 and bool(spread >= 2.0))
    return _judged(difference, left, "marks", SAME_LIGHT, tuple(names))


def match_frame(anchor: Array, still: Array) -> Match:
    """Solve the difference from samples (n, 3) of scene light of both frames, framed about alike.

    The channels' quantiles of the corrected still are compared with the anchor's, and so are those of the
    differences between channels, which carry the balance. Extremes are left out: lamps clip, and blacks are noise.
    """
    aim = _features(anchor)

    def residual(values: Array) -> Array:
        gap = _features(Difference.of(values).undo(still)) - aim
        # Soft-L1 (Charbonnier): a part of the frame that changed must not drag the rest.
        rooted = np.sign(gap) * np.sqrt(2.0 * (np.sqrt(1.0 + (gap / 0.25) ** 2) - 1.0)) * 0.25
        return np.concatenate([rooted.ravel() / np.sqrt(aim.size), PRIOR * values / SCALE * 0.2])

    best: tuple[float, Array] | None = None
    guess = float(np.clip(np.median(log2_light(anchor)) - np.median(log2_light(still)), -2.0, 2.0))
    for start in (np.array([-guess, 0.0, 0.0, 0.0]), np.zeros(4)):
        values, _ = solve(residual, start, LOW, HIGH, SCALE)
        cost = float(residual(values) @ residual(values))
        if best is None or cost < best[0]:
            best = (cost, values)
        if cost < CERTAIN_FRAME**2:
            break  # nothing is left that another start could explain
    assert best is not None
    difference = Difference.of(best[1])
    left = float(np.sqrt(np.mean((_features(difference.undo(still)) - aim) ** 2)))
    return _judged(difference, left, "frame", SAME_FRAME, ())


_SHARES = np.linspace(0.04, 0.96, 47)


def _features(scene: Array) -> Array:
    """(5, 47) quantiles in stops: red, green, blue, red less green, blue less green."""
    stops = log2_light(np.ascontiguousarray(scene.T))
    rows = np.concatenate([stops, stops[::2] - stops[1]])
    # Whole rows sorted in place: several times quicker than numpy's quantile, and this is all of the work.
    rows.sort(axis=1)
    place = _SHARES * (rows.shape[1] - 1)
    below = place.astype(np.intp)
    part = place - below
    return rows[:, below] * (1.0 - part) + rows[:, np.minimum(below + 1, rows.shape[1] - 1)] * part


def weigh(by_marks: Match, by_frame: Match) -> Match:
    """Which of the two to believe.

    Marks disagree after the best correction either because the light changed, or because the boxes no longer lie on
    the same surfaces (the camera or the sitter moved). A frame that agrees as a whole speaks for the second.
    """
    left, usual = by_marks.left, abs(by_marks.difference.flare) <= USUAL_FLARE
    if left <= CERTAIN_MARKS and usual and not by_marks.changed:
        if not by_frame.changed:
            return by_marks
        return replace(by_marks, note="its frame as a whole differs: other framing, or light on what no mark shows")
    doubtful = left <= SAME_LIGHT and (left > DOUBTFUL_MARKS or not usual)
    if not by_frame.changed and by_frame.left <= (SAME_FRAME if doubtful else CERTAIN_FRAME):
        return replace(by_frame, note=f"its marks disagree by {left:.2f} stops, as if they lay on other surfaces")
    if not doubtful or by_marks.changed:
        return by_marks
    if left > DOUBTFUL_MARKS:
        why = f"its marks differ by {left:.2f} stops after the best correction, and so does the frame"
    else:
        why = f"its marks agree only with a flare of {by_marks.difference.flare:+.4f}, and the frame does not"
    return replace(by_marks, difference=Difference(), state="changed", changed="the light is not the anchor's: " + why)


def _solve(theirs: Array, mine: Array, weight: Array, flare: bool) -> tuple[Difference, float]:
    aim = log2_light(theirs)
    low, high = LOW.copy(), HIGH.copy()
    if not flare:
        low[3] = high[3] = 0.0

    def residual(values: Array) -> Array:
        gap = (log2_light(Difference.of(values).undo(mine)) - aim) * weight
        return np.concatenate([gap.ravel(), PRIOR * values / SCALE])

    values, _ = solve(residual, np.zeros(4), low, high, SCALE)
    difference = Difference.of(values)
    return difference, float(np.sqrt(np.mean((log2_light(difference.undo(mine)) - aim) ** 2)))


def _judged(difference: Difference, left: float, by: str, same: float, names: tuple[str, ...]) -> Match:
    """Caps, confidence, and whether this is the same scene in the same light at all."""
    stops, mired, tint = CAPS[by]
    confidence = float(np.clip(1.0 - left / (2.0 * same), 0.0, 1.0))
    if left > same:
        if by == "marks":
            why = f"the light is not the anchor's: its marks differ by {left:.2f} stops after the best correction"
        else:
            why = f"the frame is not the anchor's: {left:.2f} stops differ after the best correction; give it marks"
        return Match(Difference(), by, confidence, left, why, names, state="changed" if by == "marks" else "unknown")
    beyond = difference.beyond(stops, mired, tint)
    if beyond:
        why = "it is further from the anchor than takes of one scene are: " + ", ".join(beyond)
        return Match(Difference(), by, confidence, left, why, names, state="unknown")
    return Match(difference, by, confidence, left, "", names)


def sampled(scene: Array, most: int = 4_000) -> Array:
    """About ``most`` samples (n, 3) of scene light (H, W, 3): means of the square blocks of a grid.

    Exposure, balance and flare act on a mean of light as on the light itself, so nothing is lost; and means hardly
    feel noise or a frame moved by a few pixels.
    """
    height, width = scene.shape[:2]
    every = max(1, int(np.sqrt(height * width / most)))
    h, w = height // every * every, width // every * every
    blocks = scene[:h, :w].reshape(h // every, every, w // every, every, 3)
    return np.asarray(blocks.mean(axis=(1, 3)), np.float64).reshape(-1, 3)
