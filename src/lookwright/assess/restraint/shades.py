"""Colours plainly and graded: turn of hue, share of colour kept, and lightness beside that of greys."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent
from lookwright.colour.spaces.oklab import scene_to_opponent

from .colours import greys, stops_range
from .subject import Subject
from .values import chroma, saturation_factor, seen_turn

LEAST_CHROMA = 0.03
"""Oklab chroma, plainly, below which a hue is not judged: three just visible steps from grey."""
LEAST_LEVEL = 5.0
"""Percent of signal, likewise: in the black of a picture hue is not seen."""
LEFT = 0.015
"""Oklab chroma, graded, below which there is no hue left to judge; that it was lost is another measure's matter."""

Curve = tuple[Array, Array]


def grey_curve(subject: Subject) -> Curve:
    """CIELAB lightness of greys, plainly (rising) and graded."""
    code = subject.feed(greys(stops_range(-12.0, 10.0, 0.2)))
    before, after = (subject.lab(f(code))[:, 0] for f in (subject.plain, subject.graded))
    order = np.argsort(before)
    return before[order], after[order]


class Shades:
    """What becomes of scene colours.

    Parameters
    ----------
    subject
        The look or LUT.
    scene
        (n, 3) linear ACEScg.
    curve
        From :func:`grey_curve`.
    """

    turn: Array
    """(n,) degrees of Oklab hue from the plain rendering; NaN where there is no hue to judge."""
    from_scene: Array
    """(n,) degrees from the hue of the scene light itself, or of the picture fed where the source is a display's."""
    factor: Array
    """(n,) saturation (Oklab chroma over lightness, so that darker or lighter is not read as less or more colour) over
    that of the plain rendering; NaN where that has none to speak of."""
    lighter: Array
    """(n,) CIELAB lightness beyond what a grey of the same plain lightness becomes: contrast is not counted."""

    def __init__(self, subject: Subject, scene: Array, curve: Curve) -> None:
        code = subject.feed(scene)
        plain, graded = subject.plain(code), subject.graded(code)
        before, after = subject.oklab(plain), subject.oklab(graded)
        level, was = (signal_percent(subject.light(c)) for c in (graded, plain))
        # A colour that the source itself cuts off is not the look's doing.
        held = _held(subject, code)
        judged = (chroma(before) >= LEAST_CHROMA) & (was >= LEAST_LEVEL) & ~held
        hued = judged & (chroma(after) >= LEFT) & (level >= LEAST_LEVEL)
        self.turn = np.where(hued, seen_turn(before, after), np.nan)
        reference = scene_to_opponent(scene) if subject.source.kind == "scene" else before
        self.from_scene = np.where(hued, seen_turn(reference, after), np.nan)
        self.factor = np.where(judged, saturation_factor(before, after), np.nan)
        l0, l1 = subject.lab(plain)[:, 0], subject.lab(graded)[:, 0]
        self.lighter = np.where(held, np.nan, l1 - np.interp(l0, *curve))


def _held(subject: Subject, code: Array) -> NDArray[np.bool_]:
    """(n,) where the source can take no more: a channel at either end of a scene signal."""
    if subject.source.kind != "scene":
        return np.zeros(len(code), bool)
    return np.asarray(((code <= 0.0) | (code >= 1.0)).any(axis=-1))
