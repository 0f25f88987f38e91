"""The tone scale on greys: where it ends, where it is steep, and whether it ever turns back."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent

from .colours import greys, stops_range
from .subject import Subject
from .values import Measured, Value, stops_words

STEP = 0.05
STOPS = stops_range(-12.0, 8.0, STEP)
BLACK_RISE = 1.0
"""Percent of signal above the blackest black from which a tone counts as seen apart from it (2.55 codes of 8 bits)."""
WHITE_FALL = 1.0
"""Percent of signal under the whitest white, likewise."""


def tone(subject: Subject) -> Measured:
    """Clip points in stops, black and white level, slope at grey, and the largest fall of the scale."""
    code = subject.feed(greys(STOPS))
    plain, graded = (signal_percent(subject.light(f(code))) for f in (subject.plain, subject.graded))
    low, high = black_point(graded), white_point(graded)
    grey = int(np.argmin(np.abs(STOPS)))
    fall, at = largest_fall(graded)
    slope, slope_plain = log_slope(graded), log_slope(plain)
    away = max(slope, slope_plain) / max(min(slope, slope_plain), 1e-2)  # steeper or flatter, both are away
    values = [
        Value("black_point", low, f"tones end in black {stops_words(low)}"),
        Value("white_point", high, f"tones end in white {stops_words(high)}"),
        Value("black_level", max(float(graded[0] - plain[0]), 0.0), f"black sits at {graded[0]:.1f} % of signal"),
        Value("white_level", float(graded[-1]), f"the brightest white reaches {graded[-1]:.1f} % of signal"),
        Value(
            "grey_level",
            abs(float(graded[grey] - plain[grey])),
            f"middle grey sits at {graded[grey]:.1f} %, plainly at {plain[grey]:.1f} %",
        ),
        Value("contrast", away, f"contrast at grey is {slope:.2f} (log light on log light), plainly {slope_plain:.2f}"),
        Value("tone_fall", 10.23 * fall, f"the scale turns back {stops_words(STOPS[at])}"),
    ]
    return Measured(values, {"tone": {"stops": STOPS, "plain": plain, "graded": graded, "black": low, "white": high}})


def black_point(level: Array) -> float:
    """Stops of the darkest tone that is :data:`BLACK_RISE` percent above the darkest level."""
    seen = level >= level.min() + BLACK_RISE
    return float(STOPS[int(np.argmax(seen))]) if seen.any() else float(STOPS[-1])


def white_point(level: Array) -> float:
    """Stops of the brightest tone that is :data:`WHITE_FALL` percent under the brightest level."""
    seen = level <= level.max() - WHITE_FALL
    return float(STOPS[len(seen) - 1 - int(np.argmax(seen[::-1]))]) if seen.any() else float(STOPS[0])


def largest_fall(level: Array) -> tuple[float, int]:
    """How far the scale ever falls below what it had reached (percent), and where."""
    fall = np.maximum.accumulate(level) - level
    i = int(np.argmax(fall))
    return float(fall[i]), i


def log_slope(level: Array, reach: float = 0.5) -> float:
    """Slope of log display light on log scene light about middle grey; level is signal at gamma 2.4."""
    near = np.abs(STOPS) <= reach + 1e-9
    return float(np.polyfit(STOPS[near], 2.4 * np.log2(np.maximum(level[near], 1e-6)), 1)[0])
