"""Banding: steps that show along slow gradients, from a source of 10 bits to an output of 8 or 10."""

from __future__ import annotations

from functools import lru_cache, partial

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.visible import steps_seen

from .colours import hues
from .subject import Subject
from .values import Measured, Places, hue_words, stops_words

PER_STOP = 64
"""Colours a stop: about one for each code of a log curve of 10 bits."""
STOPS = np.linspace(-6.0, 5.0, 11 * PER_STOP + 1)
HALF = PER_STOP // 2
"""Half the width, in colours, of what a smooth curve is fitted to: a stop in all. Bands are finer than that."""
HUES = np.array([45.0, 90.0, 150.0, 210.0, 260.0, 320.0])
SATURATION = 0.08
SOURCE_CODES = 1023.0
"""The source as a camera records it and a file keeps it: 10 bits."""
DEPTHS = (8, 10)
SEEN = 1.0
"""Steps plainly smaller than what is just seen count as that: nothing is gained by hiding them further."""


@lru_cache(maxsize=1)
def _ramps() -> Array:
    """(1 + hues, n, 3) scene light: greys, then a tint of each hue."""
    ramps = [hues(STOPS, 0.0, np.array(0.0))] + [hues(STOPS, SATURATION, np.array(h)) for h in HUES]
    return np.array(ramps)


def banding(subject: Subject) -> Measured:
    """How far the picture of a slow ramp strays from a smooth one, in times what is just seen, against the plain
    rendering's own there. The source has 10 bits; the output is rounded to each depth, and those steps count too."""
    ramps = np.round(subject.feed(_ramps()) * SOURCE_CODES) / SOURCE_CODES
    plain, graded = (f(ramps) for f in (subject.plain, subject.graded))
    names = ["greys", *(hue_words(h) for h in HUES)]

    def words(depth: int, ratio: Array, index: int) -> str:
        ramp, i = np.unravel_index(index, ratio.shape)
        return (
            f"a slow gradient of {names[ramp]} {stops_words(STOPS[i + HALF])} breaks into bands in {depth} bits, "
            f"{ratio[ramp, i]:.1f} times as strong as plainly"
        )

    places, at = [], _ramps()[:, HALF:-HALF].reshape(-1, 3)
    for depth in DEPTHS:
        was, now = (_stray(subject, code, depth) for code in (plain, graded))
        # Rounding strays by a hair here and half a code there: what the plain ramp does within a stop is what counts.
        ratio = now / np.maximum(_most_near(was), SEEN)
        places.append(Places(f"banding_{depth}", ratio.ravel(), partial(words, depth, ratio), at))
    return Measured(places)


def _stray(subject: Subject, code: Array, depth: int) -> Array:
    """(ramp, n - 2 HALF) how far ramps (ramp, n, 3) of output code stand out from a smooth curve through them."""
    nits = subject.output.encoding.unit_nits
    levels = 2.0**depth - 1.0
    kept = np.round(np.clip(code, 0.0, 1.0) * levels) / levels
    # From the step to one side to that on the other: an edge is seen by the whole of it.
    smooth, rough = smoothed(kept), kept[:, HALF:-HALF]
    return np.asarray(2.0 * steps_seen(subject.light(smooth) * nits, subject.light(rough) * nits))


def _most_near(values: Array) -> Array:
    """(ramp, n) the greatest within half a stop to either side."""
    padded = np.pad(values, ((0, 0), (HALF, HALF)), mode="edge")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, 2 * HALF + 1, axis=-1).max(axis=-1))


def smoothed(ramp: Array) -> Array:
    """(..., n - 2 HALF, c) of (..., n, c): at each place the cubic that fits the :data:`HALF` neighbours to either side
    best (Savitzky and Golay 1964)."""
    windows = np.lib.stride_tricks.sliding_window_view(ramp, 2 * HALF + 1, axis=-2)
    return np.asarray(windows @ _kernel())


@lru_cache(maxsize=1)
def _kernel() -> Array:
    t = np.arange(-HALF, HALF + 1) / HALF
    return np.asarray(np.linalg.pinv(np.stack([t**0, t, t**2, t**3], axis=1))[0])
