"""The tone scale on greys: where it ends, where it is steep, and whether it ever turns back."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent

from .colours import greys, stops_range
from .subject import Subject
from .values import Measured, Places, both_ways, stops_words

STEP = 0.05
STOPS = stops_range(-12.0, 12.0, STEP)
"""Past the light that reaches white, plainly: 9.5 stops over grey at 100 cd/m2, 11.5 at 1000."""
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
    moved = graded[grey] - plain[grey]
    slope, slope_plain = log_slope(graded), log_slope(plain)
    steeper = max(slope, 1e-2) / max(slope_plain, 1e-2)
    contrast = f"contrast at grey is {slope:.2f} (log light on log light), plainly {slope_plain:.2f}"

    def one(name: str, value: float, words: str) -> Places:
        return Places(name, np.array([value]), lambda i: words)

    places = [
        one("black_point", low, f"tones end in black {stops_words(low)}"),
        one("white_point", high, f"tones end in white {stops_words(high)}"),
        one("black_level", graded[0] - plain[0], f"black sits at {graded[0]:.1f} % of signal"),
        # Where the source holds too little light for white to be reached plainly, that lack is none of the look's.
        one(
            "white_level",
            graded[-1] + max(0.0, 100.0 - plain[-1]),
            f"the brightest white reaches {graded[-1]:.1f} % of signal, plainly {plain[-1]:.1f} %",
        ),
        Places(
            "grey_level",
            both_ways(np.array([moved])),
            lambda i: f"middle grey sits at {graded[grey]:.1f} %, plainly at {plain[grey]:.1f} %",
        ),
        # Steeper or flatter, both are away.
        Places("contrast", np.array([steeper, 1.0 / steeper]), lambda i: contrast),
        one("tones_lost", *_lost(subject, code)),
        Places("tone_fall", 10.23 * falls(graded), lambda i: f"the scale turns back {stops_words(STOPS[i + 1])}"),
    ]
    return Measured(places, {"tone": {"stops": STOPS, "plain": plain, "graded": graded, "black": low, "white": high}})


FLAT, STEEP = 0.05, 0.15
"""Shares of the plain slope, in CIELAB lightness: up to the first tones have become one, from the second on they are
told apart; between them they count in part, so that the solver of ``tune`` sees the limit coming."""


def _lost(subject: Subject, code: Array) -> tuple[float, str]:
    """CIELAB lightness of the plain scale that is flat here, and where most of it lies."""
    before, after = (subject.lab(f(code))[:, 0] for f in (subject.plain, subject.graded))
    step = np.diff(before)
    slope = np.diff(after) / np.maximum(step, 1e-9)
    lost = np.maximum(step, 0.0) * np.clip((STEEP - slope) / (STEEP - FLAT), 0.0, 1.0)
    middle = int(np.argmin(np.abs(STOPS)))
    dark, bright = float(lost[:middle].sum()), float(lost[middle:].sum())
    end = "highlights" if bright >= dark else "shadows"
    return dark + bright, f"{max(dark, bright):.0f} of 100 units of lightness, in the {end}, have become one tone"


def black_point(level: Array) -> float:
    """Stops at which the scale first reaches :data:`BLACK_RISE` percent above its darkest level."""
    return float(np.interp(level.min() + BLACK_RISE, np.maximum.accumulate(level), STOPS))


def white_point(level: Array) -> float:
    """Stops at which the scale is last :data:`WHITE_FALL` percent under its brightest level."""
    return float(np.interp(level.max() - WHITE_FALL, np.minimum.accumulate(level[::-1])[::-1], STOPS))


def falls(level: Array) -> Array:
    """(n - 1,) how far each tone (n,) but the first lies below what the scale had reached; below 0 where it rises."""
    return np.maximum.accumulate(level)[:-1] - level[1:]


def log_slope(level: Array, reach: float = 0.5) -> float:
    """Slope of log display light on log scene light about middle grey; level is signal at gamma 2.4."""
    near = np.abs(STOPS) <= reach + 1e-9
    return float(np.polyfit(STOPS[near], 2.4 * np.log2(np.maximum(level[near], 1e-6)), 1)[0])
