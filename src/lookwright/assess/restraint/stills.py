"""What a look does to given stills: pixels clipped and crushed, skin marks, and the separation it gains."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array, Pixels
from lookwright.assess.measure.poles import signal_percent
from lookwright.assess.measure.separation import separation
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.pictures.stills import CodedStill, Mark, Still, region

from .clipping import clipped
from .effect import Gathered
from .limits import BY_NAME
from .remember import exact_pictures
from .report import StillReport
from .subject import Subject
from .values import Measured, Places, Value, both_ways, chroma, turn_degrees

MOST = 130_000
"""Pixels measured of a still, thinned evenly in both directions: shares are then good to about 0.1 %."""
FEW = 1_200
"""Pixels measured of it for each parameter that is tried; the parameter that is named is measured on all."""
SEEN_PIXELS = 40_000
"""Pixels from which differences and separation are taken: means over so many are good to half a percent of their
spread."""
BLACK = 0.5
"""Percent of signal below which a pixel is flat black."""
PLAIN_TONE = 2.5
"""Percent of signal that it must have had in the plain rendering to count as lost."""
LEAST_CHROMA = 0.03
"""As for skin samples: below this Oklab chroma a hue turn is not read."""

Measurement = Callable[[Subject], Measured]


@dataclass(frozen=True)
class Worst:
    """The worst still for one measure, and how it is measured again."""

    value: Value
    quick: Measurement
    """On a few of its pixels, exactly."""
    whole: Measurement
    """On those that were measured, as they were."""


@dataclass
class Stills:
    """Gathered over the stills, one at a time, so that memory does not grow with their number."""

    reports: list[StillReport] = field(default_factory=list)
    worst: dict[str, Worst] = field(default_factory=dict)
    moved: Gathered = field(default_factory=Gathered)

    def add(self, subject: Subject, still: Still | CodedStill, marks: Sequence[Mark]) -> None:
        """Measure one still."""
        name = still.path.name
        some = np.ascontiguousarray(still.part(*thinning(still.height, still.width)))
        graded = _Graded(subject, some)
        self._keep(
            graded.measured(name),
            lambda s: shares_lost(exact_pictures(s), thinned(some, FEW), name),
            lambda s: shares_lost(s, some, name),
        )
        sentences = [self._skin(subject, still, mark) for mark in marks if mark.role == "skin"]
        before, after = (thinned(light, SEEN_PIXELS).reshape(-1, 3) for light in (graded.lit_plain, graded.lit))
        self.moved.add(before, after)
        parted = separation(before, after)
        self.reports.append(
            StillReport(
                name,
                graded.clipped,
                graded.crushed,
                tuple(sentences),
                100.0 * parted.before if parted else 0.0,
                100.0 * parted.after if parted else 0.0,
                parted.hues_before if parted else None,
                parted.hues_after if parted else None,
            )
        )

    def _skin(self, subject: Subject, still: Still | CodedStill, mark: Mark) -> str:
        box = np.ascontiguousarray(region(still, mark), np.float32)
        who = f"skin mark {mark.name!r} of {still.path.name}"
        turned = _turned(subject, box)
        if turned is None:
            return f"{who} is too near neutral to judge its hue."
        turn, factor = turned
        self._keep(
            _skin_measured(turned, who),
            lambda s: _skin_measured(_turned(exact_pictures(s), thinned(box, FEW)), who),
            lambda s: _skin_measured(_turned(s, box), who),
        )
        side, more = "yellow" if turn > 0 else "red", "more" if factor > 1 else "less"
        return (
            f"{who[:1].upper()}{who[1:]} turns {abs(turn):.1f} degrees toward {side}, "
            f"{abs(100.0 * (factor - 1.0)):.0f} % {more} colourful."
        )

    def _keep(self, measured: Measured, quick: Measurement, whole: Measurement) -> None:
        for value in measured.values:
            known = self.worst.get(value.measure)
            side = BY_NAME[value.measure].side
            if known is None or side * value.value > side * known.value.value:
                self.worst[value.measure] = Worst(value, quick, whole)


class _Graded:
    """Pixels (H, W, 3) of a still, plainly and graded."""

    def __init__(self, subject: Subject, pixels: Pixels) -> None:
        plain, graded = subject.plain_picture(pixels), subject.graded_picture(pixels)
        self.lit_plain, self.lit = (subject.light(np.asarray(p, np.float64)) for p in (plain, graded))
        self.clipped = 100.0 * float((clipped(subject, graded) & ~clipped(subject, plain)).mean())
        dark = (signal_percent(self.lit) < BLACK) & (signal_percent(self.lit_plain) >= PLAIN_TONE)
        self.crushed = 100.0 * float(dark.mean())

    def measured(self, name: str) -> Measured:
        """Shares of pixels lost at either end."""
        places = [
            Places("still_clipped", np.array([self.clipped]), lambda i: f"{self.clipped:.1f} % of {name} clips"),
            Places("still_crushed", np.array([self.crushed]), lambda i: f"{self.crushed:.1f} % of {name} goes black"),
        ]
        return Measured(places)


def shares_lost(subject: Subject, pixels: Pixels, name: str) -> Measured:
    """Percent of the pixels (H, W, 3) of a still that are newly clipped, and newly black."""
    return _Graded(subject, pixels).measured(name)


def _turned(subject: Subject, box: Pixels) -> tuple[float, float] | None:
    """Hue turn in degrees and factor of saturation of a mark (H, W, 3); None where it has no hue to judge."""

    def mean(picture: NDArray[np.float32]) -> Array:
        # Light is averaged, as the eye at a distance does, not code values.
        return light_to_oklab(subject.light(np.asarray(picture, np.float64)).reshape(-1, 3).mean(axis=0))

    a, b = mean(subject.plain_picture(box)), mean(subject.graded_picture(box))
    if chroma(a) < LEAST_CHROMA:
        return None
    return float(turn_degrees(a, b)), float((chroma(b) / max(b[0], 1e-3)) / (chroma(a) / a[0]))


def _skin_measured(turned: tuple[float, float] | None, who: str) -> Measured:
    turn, factor = (np.nan, np.nan) if turned is None else turned
    more = np.maximum(factor, 1e-3)
    return Measured(
        [
            Places(
                "still_skin_hue",
                both_ways(np.array([turn])),
                lambda way: f"turns {who} toward {('yellow', 'red')[way]}",
            ),
            Places(
                "still_skin_colour",
                100.0 * np.array([more - 1.0, 1.0 / more - 1.0]),
                lambda way: f"makes {who} {('more', 'less')[way]} colourful",
            ),
        ]
    )


def thinned(pixels: NDArray[Any], most: int = MOST) -> NDArray[Any]:
    """Every n-th row and column, n the smallest number that leaves no more than ``most`` pixels."""
    rows, columns = thinning(pixels.shape[0], pixels.shape[1], most)
    return np.ascontiguousarray(pixels[rows, columns])


def thinning(height: int, width: int, most: int = MOST) -> tuple[slice, slice]:
    """The rows and columns of :func:`thinned`."""
    n = 1
    while -(-height // n) * -(-width // n) > most:
        n += 1
    return slice(n // 2, None, n), slice(n // 2, None, n)
