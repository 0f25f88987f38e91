"""Restraint place by place: the measures of ``check`` with a sign, smooth where the measures have corners.

A measure of the check is the worst size over many places. A step that knows only the present worst runs into the next
one, and a size has a corner at zero, where a look starts. So the solver is told every place with its sign: a turn of
skin toward yellow and one toward red are two limits, each straight near by. The measures' own formulas, colours and
thresholds are used; a unit test holds the worst place against the measure itself. Nothing here decides a check.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent
from lookwright.assess.measure.skin import skin_scene
from lookwright.assess.restraint import neutrals, noise, skin, tone
from lookwright.assess.restraint.colours import greys
from lookwright.assess.restraint.jacobian import gain, jacobian
from lookwright.assess.restraint.subject import Subject
from lookwright.colour.difference import ciede2000

Function = Callable[[Array], Array]
Found = Iterator[tuple[str, Array]]

STOPS = np.sort(np.concatenate([[-12.0], np.arange(-8.0, 6.01, 0.5), [-0.25, 0.25], [8.0]]))
"""Greys looked at: the ends of the measure of tone, and half stops between the ends of the measure of neutrals."""

TURNS = np.radians(np.arange(0.0, 360.0, 45.0))
"""Directions in which a tint is held, besides the one it has."""

TINTED = 0.5
"""CIELAB distance that is turned into CIEDE2000 to learn their ratio for a grey."""

MEASURES = (
    "skin_hue",
    "skin_colour",
    "skin_hue_mixed",
    "skin_colour_mixed",
    "skin_level",
    "grey_card_tint",
    "grey_tint",
    "grey_swing",
    "black_level",
    "white_level",
    "grey_level",
    "contrast",
    "tone_fall",
    "black_point",
    "white_point",
    "noise",
    "shadow_noise",
)
"""What is held place by place here."""


class Greys:
    """Tone scale and tint of greys."""

    def __init__(self, subject: Subject) -> None:
        self._subject = subject
        self._code = subject.feed(greys(STOPS))
        plain = subject.plain(self._code)
        self._lab = subject.lab(plain)
        self._level = signal_percent(subject.light(plain))
        self._slope = _slope(self._level)
        self._tint_stops = np.flatnonzero((np.abs(STOPS) % 0.5 == 0.0) & (STOPS >= -8.0) & (STOPS <= 6.0))

    def __call__(self, function: Function) -> Found:
        code = function(self._code)
        level = signal_percent(self._subject.light(code))
        yield from self._tones(level)
        lab = self._subject.lab(code)
        tint = (lab[:, 1:] - self._lab[:, 1:])[self._tint_stops]
        stops, lightness = STOPS[self._tint_stops], lab[self._tint_stops, :1]
        around = np.stack([np.cos(TURNS), np.sin(TURNS)])
        # What a CIELAB unit about this grey is in CIEDE2000, the same in all directions to a few percent.
        one = np.concatenate([lightness, lab[self._tint_stops, 1:] - tint], axis=1)
        size = np.maximum(np.linalg.norm(tint, axis=1, keepdims=True), 1e-12)
        way = np.where(size > 1e-6, tint / size, [1.0, 0.0]) * np.maximum(size, TINTED)
        ratio = ciede2000(one + np.concatenate([0.0 * lightness, way], axis=1), one) / np.linalg.norm(way, axis=1)
        toward = np.concatenate([tint @ around, np.linalg.norm(tint, axis=1, keepdims=True)], axis=1) * ratio[:, None]
        card = np.abs(stops) <= neutrals.CARD
        yield "grey_card_tint", toward[card].ravel()
        yield "grey_tint", toward.ravel()
        swing = tint[2:] - tint[:-2]
        yield "grey_swing", np.concatenate([(swing @ around).ravel(), np.linalg.norm(swing, axis=1)])

    def _tones(self, level: Array) -> Found:
        grey = int(np.argmin(np.abs(STOPS)))
        yield "black_level", np.array([level[0] - self._level[0]])
        yield "white_level", level[-1:]
        off = level[grey] - self._level[grey]
        yield "grey_level", np.array([off, -off])
        steeper = _slope(level) / max(self._slope, 1e-2)
        yield "contrast", np.array([steeper, 1.0 / max(steeper, 1e-2)])
        yield "tone_fall", 10.23 * (level[:-1] - level[1:])
        rising = np.maximum.accumulate(level)
        yield "black_point", np.interp([level[0] + tone.BLACK_RISE], rising, STOPS)
        yield "white_point", np.interp([level[-1] - tone.WHITE_FALL], rising, STOPS)


def _slope(level: Array) -> float:
    """:func:`tone.log_slope` on fewer greys."""
    near = np.abs(STOPS) <= 0.5
    return float(np.polyfit(STOPS[near], 2.4 * np.log2(np.maximum(level[near], 1e-6)), 1)[0])


class Skins:
    """Skin under each light."""

    def __init__(self, subject: Subject) -> None:
        self._subject = subject
        scenes = skin_scene()
        gains = np.exp2(np.array(skin.STOPS))[:, None, None]
        self._code = subject.feed(np.array([scene * gains for scene in scenes.values()]))
        plain = subject.plain(self._code)
        self._lab = subject.oklab(plain)
        self._level = signal_percent(subject.light(plain))
        mixed = np.array([light in skin.MIXED for light in scenes])
        self._parts = (("", ~mixed), ("_mixed", mixed))
        self._at_key = skin.STOPS.index(0.0)

    def __call__(self, function: Function) -> Found:
        code = function(self._code)
        lab, level = self._subject.oklab(code), signal_percent(self._subject.light(code))
        turn, ratio = skin.against(self._lab, lab, level)
        ratio = np.maximum(ratio, 1e-3)
        for suffix, chosen in self._parts:
            here = turn[chosen].ravel()
            yield f"skin_hue{suffix}", np.concatenate([here, -here])
            more = ratio[chosen].ravel()
            yield f"skin_colour{suffix}", 100.0 * np.concatenate([more - 1.0, 1.0 / more - 1.0])
        off = (level - self._level)[self._parts[0][1]][:, self._at_key].ravel()
        yield "skin_level", np.concatenate([off, -off])


class Noise:
    """How much small disturbances grow."""

    def __init__(self, subject: Subject) -> None:
        stops, saturation, hue, code = noise.disturbed(subject)
        # Greys do not differ by hue.
        keep = (saturation.ravel() > 0.0) | (hue.ravel() == noise.HUES[0])
        self._code = code.reshape(-1, 3)[keep]
        self._dark = (stops.ravel() <= noise.SHADOWS)[keep]
        self._plain = np.maximum(gain(jacobian(subject.plain, self._code)), noise.FLOOR)

    def __call__(self, function: Function) -> Found:
        ratio = gain(jacobian(function, self._code)) / self._plain
        yield "noise", ratio[~self._dark]
        yield "shadow_noise", ratio[self._dark]
