"""Gradients that are not smooth: bends and steps along ramps."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

from .colours import hues
from .subject import Subject
from .values import Measured, Places, hue_words, stops_words

COUNT = 385
STOPS = np.linspace(-6.0, 4.0, COUNT)
"""A ramp of ten stops in steps of 1/38 stop: five pixels a step for a wall across a frame 2,000 pixels wide."""
HUES = np.array([45.0, 90.0, 150.0, 210.0, 240.0, 300.0])
SATURATION = 0.06
CIRCLE = np.linspace(0.0, 360.0, COUNT)


def roughness(subject: Subject) -> Measured:
    """The largest second difference along ramps, in CIELAB units, beyond that of the plain rendering there.

    Ramps of light at neutral and six hues, and a circle of hues at middle grey. A kink between two straight parts shows
    as its change of slope per step; a curve of ordinary contrast stays below 0.05.
    """
    ramps = [hues(STOPS, 0.0, np.array(0.0))]
    ramps += [hues(STOPS, SATURATION, np.array(h)) for h in HUES]
    ramps += [hues(0.0, SATURATION, CIRCLE)]
    names = ["greys", *(hue_words(h) for h in HUES), ""]
    code = subject.feed(np.array(ramps))
    bend = second_difference(subject.lab(subject.graded(code))) - second_difference(subject.lab(subject.plain(code)))

    def words(index: int) -> str:
        ramp, i = divmod(index, COUNT - 2)
        place = f"{names[ramp]} {stops_words(STOPS[i + 1])}" if names[ramp] else f"hues near {hue_words(CIRCLE[i + 1])}"
        return f"a gradient of {place} bends sharply"

    return Measured([Places("roughness", bend.ravel(), words)])


def second_difference(ramp: Array) -> Array:
    """Length of the second difference along ramps (..., n, 3): (..., n - 2)."""
    return np.linalg.norm(ramp[..., 2:, :] - 2.0 * ramp[..., 1:-1, :] + ramp[..., :-2, :], axis=-1)
