"""Folds: colours that swap places, and hues that run backwards."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .clipping import clipped
from .colours import hues, stops_range
from .jacobian import HALF_CODE, Function, determinant, jacobian, regular, relative
from .subject import Subject
from .values import Measured, Places, hue_words, stops_words

STOPS = stops_range(-4.0, 2.5, 0.5)
HUES = np.arange(0.0, 360.0, 15.0)
SATURATION = np.array([0.03, 0.06, 0.1, 0.15])
"""From a faint tint past skin (0.08) to strong paint."""
STRONG_STOPS = stops_range(-3.0, 1.0, 1.0)
STRONG = np.array([0.2, 0.25, 0.3, 0.36, 0.45])
"""Stronger, to the limit of the display: a BT.709 primary has 0.34 to 0.69. There the plain rendering brings colours
in, and what is not one to one plainly is left out."""

STEPS: dict[str, tuple[float, ...]] = {"fold": (HALF_CODE,), "fold_strong": (1.0 / 64.0, 1.0 / 32.0)}
"""Signal to either side over which neighbours are compared. Near the limit of the display the plain rendering bends
within a cell of a lattice of 33 points more than the lattice can follow, and single tetrahedra turn over in every LUT
of it, which nobody sees; what is a fold of the look itself is one over half a cell and over a whole one."""

MARGIN = 0.02
"""Colours with a channel this near to the end of its range, plainly or graded, are left out: a clipped colour has no
place to swap, and a lattice clips in whole cells. The measures of clipping count them."""

CIRCLE_STOPS = np.array([-2.5, -1.0, 0.0, 1.0])
CIRCLE_SATURATION = np.array([0.06, 0.1, 0.15, 0.2, 0.27, 0.36])
FINE = 3
"""So many of these are followed step by step; stronger ones over :data:`COARSE` steps (6 degrees), since a lattice
cannot follow them closer."""
COARSE = 3
CIRCLE = np.arange(0.0, 360.0, 2.0)

NEAREST = 120
"""Places nearest to a fold that are measured again when a parameter is tried; the parameter that is named is measured
everywhere."""


@lru_cache(maxsize=2)
def _scene(measure: str) -> tuple[Array, Array, Array]:
    """Stops and hue (n,) of the colours looked at for folds of a measure, and their light (n, 3)."""
    grid = (STOPS, SATURATION, HUES) if measure == "fold" else (STRONG_STOPS, STRONG, HUES)
    stops, saturation, hue = (a.ravel() for a in np.meshgrid(*grid, indexing="ij"))
    return stops, hue, hues(stops, saturation, hue)


@lru_cache(maxsize=1)
def _circles() -> tuple[Array, Array, Array]:
    """Stops and hue (stops, saturation, hue) of the circles of hues, and their light (..., 3)."""
    stops, saturation, hue = np.meshgrid(CIRCLE_STOPS, CIRCLE_SATURATION, CIRCLE, indexing="ij")
    return stops, hue, hues(stops, saturation, hue)


def folds(subject: Subject) -> Measured:
    """The local determinant of the map from the plain picture to the graded one, in Oklab.

    1 leaves the room between neighbouring colours as it is, 0 makes them one, below 0 they have swapped places.
    """
    return _folds(subject, {name: np.arange(len(_scene(name)[0])) for name in ("fold", "fold_strong")})


def _folds(subject: Subject, which: Mapping[str, NDArray[np.intp]]) -> Measured:
    """At the places ``which`` of each measure's grid alone."""
    places, nearest = [], {}
    for name, some in which.items():
        stops, hue, scene = (a[some] for a in _scene(name))
        code = subject.feed(scene)
        inside = ~clipped(subject, subject.plain(code), MARGIN) & ~clipped(subject, subject.graded(code), MARGIN)
        inside &= (code > MARGIN).all(axis=-1) & (code < 1.0 - MARGIN).all(axis=-1)
        found = np.full(len(code), np.nan)
        found[inside] = np.max(
            [
                determinants(
                    lambda x: subject.oklab(subject.graded(x)),
                    lambda x: subject.oklab(subject.plain(x)),
                    code[inside],
                    step,
                )
                for step in STEPS[name]
            ],
            axis=0,
        )
        places.append(Places(name, found, partial(_fold_words, found, stops, hue), scene))
        nearest[name] = some[np.argsort(found)[:NEAREST]]  # NaN comes last
    return Measured(places, again=lambda changed: _folds(changed, nearest))


def _fold_words(found: Array, stops: Array, hue: Array, i: int) -> str:
    what = "colours change places about" if found[i] < 0 else "neighbouring colours come closest about"
    return f"{what} {hue_words(float(hue[i]))} {stops_words(float(stops[i]))}"


def determinants(after: Function, before: Function, points: Array, step: float = HALF_CODE) -> Array:
    """(n,) determinant of the local map from ``before`` to ``after`` at (n, 3) points, over ``step`` to either side.

    NaN where ``before`` is itself not one to one (see :func:`jacobian.regular`).
    """
    plain = jacobian(before, points, step)
    usable = regular(plain)
    found = np.full(len(points), np.nan)
    if usable.any():
        found[usable] = determinant(relative(jacobian(after, points[usable], step), plain[usable]))
    return found


def hue_order(subject: Subject) -> Measured:
    """How fast the graded hue follows the plain one round circles of colours: 1 keeps step, below 0 runs backwards."""
    stops, hue, scene = _circles()
    code = subject.feed(scene)
    before, after = subject.oklab(subject.plain(code)), subject.oklab(subject.graded(code))
    rate, usable = (
        np.concatenate(both, axis=1)
        for both in zip(
            hue_rate(before[:, :FINE], after[:, :FINE]),
            hue_rate(before[:, FINE:], after[:, FINE:], COARSE),
            strict=True,
        )
    )
    judged = np.where(usable, rate, np.nan).ravel()

    def words(what: str, i: int) -> str:
        return f"{what} about {hue_words(float(hue.flat[i]))} {stops_words(float(stops.flat[i]))}"

    places = [
        Places("hue_order", judged, partial(words, "hues run together or back"), scene.reshape(-1, 3)),
        Places("hue_stretch", judged, partial(words, "neighbouring hues are pulled apart"), scene.reshape(-1, 3)),
    ]
    turn = (_angle(after) - _angle(before) + 180.0) % 360.0 - 180.0
    plots = {"hue": CIRCLE, "turn": turn[2, :5:2], "saturation": CIRCLE_SATURATION[:5:2]}
    return Measured(places, {"hues": plots})


def hue_rate(before: Array, after: Array, over: int = 1) -> tuple[Array, Array]:
    """Graded hue step over plain hue step between neighbours on closed circles (..., n, 3) of Oklab colours,
    ``over`` places apart.

    Returns (..., n) rates, and where they can be trusted: both colours not near neutral, and a plain step that is a
    fifth of the mean step at least.
    """
    h0, h1 = _angle(before), _angle(after)
    step0 = (np.roll(h0, -over, axis=-1) - h0 + 180.0) % 360.0 - 180.0
    step1 = (np.roll(h1, -over, axis=-1) - h1 + 180.0) % 360.0 - 180.0
    mean = 360.0 * over / h0.shape[-1]
    coloured = (np.hypot(before[..., 1], before[..., 2]) > 0.01) & (np.hypot(after[..., 1], after[..., 2]) > 0.01)
    usable = (step0 > 0.2 * mean) & coloured & np.roll(coloured, -over, axis=-1)
    return step1 / np.where(usable, step0, 1.0), usable


def _angle(lab: Array) -> Array:
    return np.degrees(np.arctan2(lab[..., 2], lab[..., 1]))
