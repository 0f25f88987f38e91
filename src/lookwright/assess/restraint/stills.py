"""What a look does to given stills: pixels clipped and crushed, skin marks, and the separation it gains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array, Pixels
from lookwright.assess.measure.poles import poles, signal_percent
from lookwright.pictures.stills import Mark, Still, region

from .clipping import clipped
from .report import StillReport
from .subject import Subject
from .values import Value, chroma, turn_degrees

MOST = 130_000
"""Pixels measured of a still, thinned evenly in both directions: shares are then good to about 0.1 %."""
POLE_PIXELS = 40_000
"""Pixels from which the poles are taken: means over so many are good to half a percent of their spread."""
BLACK = 0.5
"""Percent of signal below which a pixel is flat black."""
PLAIN_TONE = 2.5
"""Percent of signal that it must have had in the plain rendering to count as lost."""
LEAST_CHROMA = 0.03
"""As for skin samples: below this Oklab chroma a hue turn is not read."""


@dataclass
class Stills:
    """Gathered over the stills, one at a time, so that memory does not grow with their number."""

    reports: list[StillReport] = field(default_factory=list)
    worst: dict[str, Value] = field(default_factory=dict)

    def add(self, subject: Subject, still: Still, marks: Sequence[Mark]) -> None:
        """Measure one still."""
        name = still.path.name
        some = thinned(still.pixels)
        plain, graded = subject.plain_picture(some), subject.graded_picture(some)
        lit_plain, lit = subject.light(np.asarray(plain, np.float64)), subject.light(np.asarray(graded, np.float64))
        lost = 100.0 * float((clipped(subject, graded) & ~clipped(subject, plain)).mean())
        dark = 100.0 * float(((signal_percent(lit) < BLACK) & (signal_percent(lit_plain) >= PLAIN_TONE)).mean())
        self._worst(Value("still_clipped", lost, f"{lost:.1f} % of {name} clips"))
        self._worst(Value("still_crushed", dark, f"{dark:.1f} % of {name} goes black"))
        sentences = [self._skin(subject, still, mark) for mark in marks if mark.role == "skin"]
        before, after = poles(lit_plain, POLE_PIXELS), poles(lit, POLE_PIXELS)
        self.reports.append(
            StillReport(
                name,
                lost,
                dark,
                tuple(sentences),
                100.0 * before.colour_distance,
                100.0 * after.colour_distance,
                before.hue_separation_deg,
                after.hue_separation_deg,
            )
        )

    def _skin(self, subject: Subject, still: Still, mark: Mark) -> str:
        box = np.ascontiguousarray(region(still, mark), np.float32)

        def mean(picture: NDArray[np.float32]) -> Array:
            from lookwright.colour.spaces.oklab import light_to_oklab

            # Light is averaged, as the eye at a distance does, not code values.
            return light_to_oklab(subject.light(np.asarray(picture, np.float64)).reshape(-1, 3).mean(axis=0))

        a, b = mean(subject.plain_picture(box)), mean(subject.graded_picture(box))
        who = f"skin mark {mark.name!r} of {still.path.name}"
        if chroma(a) < LEAST_CHROMA:
            return f"{who} is too near neutral to judge its hue."
        turn = float(turn_degrees(a, b))
        factor = float((chroma(b) / max(b[0], 1e-3)) / (chroma(a) / a[0]))
        away = 100.0 * (max(factor, 1.0 / max(factor, 1e-3)) - 1.0)
        side, more = "yellow" if turn > 0 else "red", "more" if factor > 1 else "less"
        self._worst(Value("still_skin_hue", abs(turn), f"turns {who} toward {side}"))
        self._worst(Value("still_skin_colour", away, f"makes {who} {more} saturated"))
        return (
            f"{who[:1].upper()}{who[1:]} turns {abs(turn):.1f} degrees toward {side}, "
            f"{abs(100.0 * (factor - 1.0)):.0f} % {more} saturated."
        )

    def _worst(self, value: Value) -> None:
        known = self.worst.get(value.measure)
        if known is None or value.value > known.value:
            self.worst[value.measure] = value


def thinned(pixels: Pixels, most: int = MOST) -> Pixels:
    """Every n-th row and column, n the smallest number that leaves no more than ``most`` pixels."""
    n = 1
    while -(-pixels.shape[0] // n) * -(-pixels.shape[1] // n) > most:
        n += 1
    return np.ascontiguousarray(pixels[n // 2 :: n, n // 2 :: n])
