"""Folds: colours that swap places, and hues that run backwards."""

from __future__ import annotations

from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .clipping import clipped
from .colours import hues, stops_range
from .jacobian import Function, determinant, jacobian, regular, relative
from .subject import Subject
from .values import Measured, Places, hue_words, stops_words

STOPS = stops_range(-4.0, 2.5, 0.5)
HUES = np.arange(0.0, 360.0, 10.0)
SATURATION = np.array([0.03, 0.06, 0.1, 0.15])
"""From a faint tint past skin (0.08) to strong paint. Stronger colours meet the boundary of the display, where the
plain rendering is not one to one either."""

MARGIN = 0.02
"""Colours with a channel this near to the end of its range, plainly or graded, are left out: a clipped colour has no
place to swap, and a lattice clips in whole cells. The measures of clipping count them."""

CIRCLE_STOPS = np.array([-2.5, -1.0, 0.0, 1.0])
CIRCLE_SATURATION = np.array([0.06, 0.1, 0.15])
CIRCLE = np.arange(0.0, 360.0, 2.0)

NEAREST = 120
"""Places nearest to a fold that are measured again when a parameter is tried; the parameter that is named is measured
everywhere."""


@lru_cache(maxsize=1)
def _scene() -> tuple[Array, Array, Array]:
    """Stops and hue (n,) of the colours looked at for folds, and their light (n, 3)."""
    stops, saturation, hue = (a.ravel() for a in np.meshgrid(STOPS, SATURATION, HUES, indexing="ij"))
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
    return _folds(subject, np.arange(len(STOPS) * len(SATURATION) * len(HUES)))


def _folds(subject: Subject, which: NDArray[np.intp]) -> Measured:
    """At the places ``which`` (n,) of the grid alone."""
    stops, hue, scene = (a[which] for a in _scene())
    code = subject.feed(scene)
    inside = ~clipped(subject, subject.plain(code), MARGIN) & ~clipped(subject, subject.graded(code), MARGIN)
    inside &= (code > MARGIN).all(axis=-1) & (code < 1.0 - MARGIN).all(axis=-1)
    found = np.full(len(code), np.nan)
    found[inside] = determinants(
        lambda x: subject.oklab(subject.graded(x)), lambda x: subject.oklab(subject.plain(x)), code[inside]
    )

    def words(i: int) -> str:
        what = "colours change places about" if found[i] < 0 else "neighbouring colours come closest about"
        return f"{what} {hue_words(float(hue[i]))} {stops_words(float(stops[i]))}"

    nearest = np.argsort(found)[:NEAREST]  # NaN comes last
    return Measured([Places("fold", found, words)], again=lambda changed: _folds(changed, which[nearest]))


def determinants(after: Function, before: Function, points: Array) -> Array:
    """(n,) determinant of the local map from ``before`` to ``after`` at (n, 3) points.

    NaN where ``before`` is itself not one to one (see :func:`jacobian.regular`).
    """
    plain = jacobian(before, points)
    usable = regular(plain)
    found = np.full(len(points), np.nan)
    if usable.any():
        found[usable] = determinant(relative(jacobian(after, points[usable]), plain[usable]))
    return found


def hue_order(subject: Subject) -> Measured:
    """How fast the graded hue follows the plain one round circles of colours: 1 keeps step, below 0 runs backwards."""
    stops, hue, scene = _circles()
    code = subject.feed(scene)
    before, after = subject.oklab(subject.plain(code)), subject.oklab(subject.graded(code))
    rate, usable = hue_rate(before, after)
    judged = np.where(usable, rate, np.nan).ravel()

    def words(what: str, i: int) -> str:
        return f"{what} about {hue_words(float(hue.flat[i]))} {stops_words(float(stops.flat[i]))}"

    places = [
        Places("hue_order", judged, partial(words, "hues run together or back")),
        Places("hue_stretch", judged, partial(words, "neighbouring hues are pulled apart")),
    ]
    turn = (_angle(after) - _angle(before) + 180.0) % 360.0 - 180.0
    plots = {"hue": CIRCLE, "turn": turn[2], "saturation": CIRCLE_SATURATION}
    return Measured(places, {"hues": plots})


def hue_rate(before: Array, after: Array) -> tuple[Array, Array]:
    """Graded hue step over plain hue step between neighbours on closed circles (..., n, 3) of Oklab colours.

    Returns (..., n) rates, and where they can be trusted: both colours not near neutral, and a plain step that is a
    fifth of the mean step at least.
    """
    h0, h1 = _angle(before), _angle(after)
    step0 = (np.roll(h0, -1, axis=-1) - h0 + 180.0) % 360.0 - 180.0
    step1 = (np.roll(h1, -1, axis=-1) - h1 + 180.0) % 360.0 - 180.0
    mean = 360.0 / h0.shape[-1]
    coloured = (np.hypot(before[..., 1], before[..., 2]) > 0.01) & (np.hypot(after[..., 1], after[..., 2]) > 0.01)
    usable = (step0 > 0.2 * mean) & coloured & np.roll(coloured, -1, axis=-1)
    return step1 / np.where(usable, step0, 1.0), usable


def _angle(lab: Array) -> Array:
    return np.degrees(np.arctan2(lab[..., 2], lab[..., 1]))
