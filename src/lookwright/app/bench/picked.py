"""What is taken up on the picture itself: a colour for its hue band, a grey to balance, a mark to bring to a level."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.balance import balance_matrix
from lookwright.colour.hue_words import hue_word
from lookwright.colour.luma import luma_percent
from lookwright.colour.plain import plain_scene
from lookwright.colour.spaces.hue_flow import NEAR_NEUTRAL, bump
from lookwright.colour.spaces.oklab import hue_and_saturation, scene_to_opponent
from lookwright.errors import LookwrightError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.way import before, way
from lookwright.look.steps import registry
from lookwright.look.steps.balance import Balance
from lookwright.look.steps.numbers import Number, numbers, with_value
from lookwright.look.steps.params import ParamInfo
from lookwright.pictures.stills import Mark, Still, region

from .mark_table import thinned
from .pictures import Pictures
from .session import Change, Session
from .shown import on_screen, shown_look

FEW = 255
"""Pixels of a box that a level is solved on, evenly chosen by their level as the look stands."""
SAMPLED = 7
"""Pixels across the spot that is taken for one colour: more than a grain of noise, less than a button."""
CLOSE = 0.05
"""Percent of signal at which a level is met: half of the last digit shown."""


def spot(still: Still, x: float, y: float) -> Array:
    """(3,) float64: the median code values of a small square round a fraction of the still."""
    half = SAMPLED // 2
    column, row = min(still.width - 1, int(x * still.width)), min(still.height - 1, int(y * still.height))
    part = still.pixels[max(0, row - half) : row + half + 1, max(0, column - half) : column + half + 1]
    return np.clip(np.median(part.reshape(-1, 3).astype(np.float64), axis=0), 0.0, 1.0)


# -- a colour and its band --------------------------------------------------------------------------------------------


def band_of(session: Session, still: Still, x: float, y: float) -> dict[str, Any]:
    """The hue band that acts most on a spot, or where one could be made.

    ``step`` and ``band`` are None where no band in use gives at least half its effect there.
    """
    look, moment, *_ = session.snapshot()
    code = spot(still, x, y)[None]
    best: tuple[float, int, int] | None = None
    hue = saturation = 0.0
    for index, step in look.indexed_steps():
        bands: tuple[Any, ...] = getattr(step, "band", ())
        if step.kind != "hues":
            continue
        h, s = hue_and_saturation(before(look, index, code))
        hue, saturation = float(h[0]), float(s[0])
        for number, band in enumerate(bands):
            share = float(bump(h, np.radians(band.centre), np.radians(band.width))[0])
            if share >= 0.5 and (best is None or share > best[0]):
                best = share, index, number
    if best is None:
        h, s = hue_and_saturation(_first_opponent(look, code))
        hue, saturation = float(h[0]), float(s[0])
    degrees = float(np.degrees(hue) % 360.0)
    found: dict[str, Any] = {
        "hue": round(degrees, 1),
        "words": hue_word(degrees),
        "saturation": saturation,
        "pale": saturation < NEAR_NEUTRAL / 2.0,
        "step": None,
        "band": None,
    }
    if best is not None:
        _, index, number = best
        found |= {"step": moment.ids[index], "band": number, "share": best[0]}
    else:
        steps = [(i, s) for i, s in enumerate(look.steps) if s.kind == "hues" and s.on]
        free = next((i for i, s in steps if len(getattr(s, "band", ())) < 8), None)
        found["into"] = None if free is None else moment.ids[free]
    return found


def _first_opponent(look: Look, code: Array) -> Array:
    """A colour as a ``hues`` step would see it that is put where the first step in scene light stands."""
    scene = [s for s in way(shown_look(look)[0], code) if s.kind == "scene"]
    if not scene:
        raise LookwrightError("picked colour", "this look has no scene light in which a band of hues could act")
    return scene_to_opponent(scene[-1].light)


# -- a grey -----------------------------------------------------------------------------------------------------------


def balanced(session: Session, still: Still, box: tuple[float, float, float, float]) -> dict[str, Any]:
    """Mired and tint that make the middle colour of a box a grey of the scene, behind the first ``balance`` in use.

    Returns the changes, or ``make`` with the values of a step that is to be added, and what remains.
    """
    look, moment, *_ = session.snapshot()
    part = thinned(region(still, Mark("grey", box)))
    code = np.median(np.clip(part, 0.0, 1.0), axis=0)[None]
    index = next((i for i, s in look.indexed_steps() if s.kind == "balance"), None)
    scene = before(look, index, code)[0] if index is not None else _decoded(look, code)[0]
    if not (scene > 0.0).all():
        raise LookwrightError("picked grey", "is black, or outside the camera's colours", hint="pick a lighter spot")
    mired, tint, left, at_end = solve_balance(scene)
    words = f"{mired:+.1f} mired, {tint:+.4f} Duv".replace("-", "\u2212")
    found: dict[str, Any] = {"left": left, "bounded": at_end, "words": words, "mired": mired, "tint": tint}
    if index is None:
        return {**found, "changes": [], "make": {"mired": mired, "tint": tint}}
    step = moment.ids[index]
    changes = [{"step": step, "path": [n], "value": v} for n, v in (("mired", mired), ("tint", tint))]
    return {**found, "changes": changes, "make": None}


def solve_balance(scene: Array) -> tuple[float, float, float, bool]:
    """(mired, Duv, remaining saturation, whether a bound holds it) of the balance that greys scene light (3,)."""
    from scipy.optimize import least_squares

    bounds = {name: info for name, _, info in Balance.parameters()}
    low = np.array([bounds["mired"].low, bounds["tint"].low])
    high = np.array([bounds["mired"].high, bounds["tint"].high])
    scale = np.array([100.0, 0.01])

    def residual(values: Array) -> Array:
        return scene_to_opponent(balance_matrix(*(values * scale)) @ scene)[1:]

    found = least_squares(residual, np.zeros(2), bounds=(low / scale, high / scale), xtol=1e-10, ftol=1e-14, gtol=1e-12)
    values = found.x * scale
    mired, tint = float(np.round(values[0], 2)), float(np.round(values[1], 5))
    left = float(np.hypot(*residual(np.array([mired, tint]) / scale)))
    at_end = bool(((found.x * scale - low) < 1e-6).any() or ((high - found.x * scale) < 1e-6).any())
    return mired, tint, left, at_end


def _decoded(look: Look, code: Array) -> Array:
    """Scene light of the source, where the first step of the look would find it."""
    bare = look.model_copy(update={"steps": ()})
    source = bare.source.signal()
    if source.kind != "scene":
        return plain_scene(source.to_light(code), source)
    return source.to_scene(code)


# -- a mark and its level ---------------------------------------------------------------------------------------------


def movers(session: Session) -> list[dict[str, Any]]:
    """The numbers of the look that move levels, in the order of the steps: by their declarations, no list of ours."""
    look, moment, *_ = session.snapshot()
    found = []
    for index, step in enumerate(look.steps):
        for number in numbers(step):
            if step.on and _moves_levels(number):
                name = f"{index + 1}. {step.kind} {number.words.replace('.', ' ').replace('_', ' ')}"
                found.append({"step": moment.ids[index], "path": list(number.path), "name": name})
    return found


def _moves_levels(number: Number) -> bool:
    info = number.info
    return info.acts_on == "level" or (info.unit == "stops" and number.path[-1] == "stops" and info.neutral == 0.0)


def toward_level(
    session: Session,
    pictures: Pictures,
    still: int,
    box: tuple[float, float, float, float],
    level: float,
    change: Change,
) -> dict[str, Any]:
    """The value of one number that brings the median of a box to a level in percent of the shown signal.

    ``change`` names the number; its value is where the search begins. ``reached`` says which level it comes to.
    """
    if change.step is None:
        raise LookwrightError("level", "that parameter does not move levels")
    look, index = session.placed(change.step)
    number = next((n for n in numbers(look.steps[index]) if n.path == change.path), None)
    if number is None or not _moves_levels(number):
        raise LookwrightError("level", "that parameter does not move levels")
    whole = np.clip(thinned(region(pictures.still(still), Mark("level", box))), 0.0, 1.0)  # what the table measures
    signal = on_screen(look)[1].signal

    def levels(value: float, part: Array) -> Array:
        steps = list(look.steps)
        steps[index] = with_value(steps[index], change.path, value)
        trial = look.model_copy(update={"steps": tuple(steps)}).with_folder(look.folder)
        return luma_percent(pictures.signal_shown(trial, part), signal)

    value = change.value
    for _ in range(2):  # on a few; chosen again where that led, since pixels change their order a little on the way
        few = whole[evenly(levels(value, whole), FEW)]
        value, reached = solve_level(partial(_median_at, levels, few), level, value, number.info)
    changes = [{"step": change.step, "path": list(change.path), "value": value}]
    return {"changes": changes, "reached": reached, "wanted": level, "met": abs(reached - level) <= 10 * CLOSE}


def _median_at(levels: Callable[[float, Array], Array], part: Array, value: float) -> float:
    return float(np.median(levels(value, part)))


def evenly(values: Array, count: int) -> NDArray[np.intp]:
    """Places of at most ``count`` (odd) of the values (n,), evenly chosen in their order: their median is that of
    all."""
    order = np.argsort(values, kind="stable")
    n = len(order)
    return order if n <= count else order[np.rint(np.linspace(0, n - 1, count)).astype(np.intp)]


def solve_level(at: Any, wanted: float, start: float, info: ParamInfo) -> tuple[float, float]:
    """(value, level there) nearest to the wanted level, within the number's bounds.

    Levels rise with every number that is declared to move them, so a bracket is opened from ``start`` and closed by
    false position with halving, until the level is met to :data:`CLOSE`.
    """
    step = (info.soft_high - info.soft_low) / 8.0
    a = min(max(start, info.low), info.high)
    fa = at(a) - wanted
    if abs(fa) <= CLOSE:
        return a, fa + wanted
    way = -1.0 if fa > 0.0 else 1.0
    b, fb = a, fa
    while fa * fb > 0.0:
        a, fa = b, fb
        b = min(max(b + way * step, info.low), info.high)
        step *= 2.0
        fb = at(b) - wanted
        if b in (info.low, info.high) and fa * fb > 0.0:
            return _rounded(b, info), fb + wanted
    for _ in range(24):
        middle = b - fb * (b - a) / (fb - fa) if fb != fa else 0.5 * (a + b)
        fm = at(middle) - wanted
        if abs(fm) <= CLOSE:
            return _rounded(middle, info), fm + wanted
        if fm * fb < 0.0:
            a, fa = b, fb
        else:
            fa *= 0.5  # the Illinois rule: an end that stays is weighed less
        b, fb = middle, fm
    return _rounded(b, info), fb + wanted


def _rounded(value: float, info: ParamInfo) -> float:
    """With no more digits than a 3000th of the usual range is worth: a few hundredths of a percent of signal."""
    digits = int(np.ceil(-np.log10((info.soft_high - info.soft_low) / 3000.0)))
    return round(value, max(0, digits)) + 0.0


# -- a step that is made for it ---------------------------------------------------------------------------------------


def makeable(look: Look, kind: str) -> int:
    """The place where a step of this kind does its work on scene light: behind the last of ``exposure`` and
    ``balance`` at the beginning, before all else."""
    if kind not in registry():
        raise LookwrightError("step", f"there is no kind {kind[:20]!r}")
    first = {"exposure": (), "balance": ("exposure",), "hues": ("exposure", "balance", "contrast")}.get(kind, ())
    place = 0
    for index, step in enumerate(look.steps):
        if step.kind in first:
            place = index + 1
        elif step.rendering:
            break
    return place
