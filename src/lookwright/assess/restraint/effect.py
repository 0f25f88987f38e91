"""What a look does, beside what it harms: how far colours move, contrast, black and white, warm against cool."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent
from lookwright.assess.measure.separation import separation
from lookwright.colour.difference import ciede2000, light_to_lab

from .colours import greys, stops_range
from .scene import scene_colours
from .subject import Subject
from .tone import STOPS, log_slope

LIT = 5.0
"""Percent of signal, plainly or graded, from which a pixel counts: what lies in black differs by nothing seen."""

STRENGTH = ((2.2, "barely visible"), (3.0, "a gentle grade"), (4.0, "a clear grade"), (np.inf, "a strong grade"))
"""Mean CIEDE2000 up to which a look is called so. 2.2 is what is just seen in pictures (Stokes, Fairchild and Berns
1992: 2.15 CIELAB units on average, from memory); 3 and 4 are our choice."""

FEW = 6.0
"""CIEDE2000 of one colour in twenty from which a look that hardly moves the others is seen all the same: two and a half
times what is just seen in pictures."""

PARTS = (
    ("chart", (-2.0, -1.0, 0.0, 1.0), 1.0),
    ("samples", (-2.0, -1.0, 0.0, 1.0), 1.0),
    ("skin daylight", (-2.0, -1.0, 0.0), 1.0),
    ("skin tungsten", (-2.0, -1.0, 0.0), 1.0),
    ("sky", (0.0, 1.0), 1.0),
    ("leaves", (-2.0, -1.0, 0.0), 1.0),
)
"""Built-in colours: group, exposures, weight of the group. Greys from -4 to +3 stops weigh as much as all of them: most
of most pictures is nearly grey."""


@dataclass(frozen=True)
class Effect:
    """What a look does, on stills or on the built-in colours."""

    on: str
    """``6 stills`` or ``built-in colours``."""
    mean: float
    """Mean CIEDE2000 against the plain rendering."""
    most: float
    """What one colour in twenty moves by at least."""
    contrast: float
    """At middle grey, times that of the plain rendering."""
    black: float
    """Level of the darkest grey, percent of signal."""
    white: float
    separation: float | None = None
    """Percent that warm and cool are further apart; None where there are not both."""

    @property
    def strength(self) -> str:
        """``a gentle grade`` and the like."""
        word = next(word for most, word in STRENGTH if self.mean < most)
        return "visible in some colours only" if word == STRENGTH[0][1] and self.most >= FEW else word

    def sentence(self) -> str:
        """In words."""
        text = (
            f"{self.strength[:1].upper()}{self.strength[1:]}: on {self.on} colour moves by {self.mean:.1f} on average "
            "and "
            f"one in twenty by {self.most:.1f} or more (CIEDE2000; 1 is just seen side by side). Contrast "
            f"{self.contrast:.2f} times, black at {self.black:.1f} %, white at {self.white:.0f} %"
        )
        if self.separation is None:
            return f"{text}."
        word = "further apart" if self.separation >= 0 else "closer together"
        return f"{text}, warm and cool {abs(self.separation):.0f} % {word}."


@dataclass
class Gathered:
    """Differences of lit pixels over stills, one still at a time."""

    means: list[float] = field(default_factory=list)
    most: list[float] = field(default_factory=list)
    gains: list[float] = field(default_factory=list)

    def add(self, before: Array, after: Array) -> None:
        """Display light (n, 3) of one still, plainly and graded."""
        lit = np.maximum(signal_percent(before), signal_percent(after)) >= LIT
        if not lit.any():
            return
        moved = difference(before[lit], after[lit])
        self.means.append(float(moved.mean()))
        self.most.append(float(np.percentile(moved, 95.0)))
        parted = separation(before, after)
        if parted is not None:
            self.gains.append(parted.gained)


def difference(before: Array, after: Array) -> Array:
    """(n,) CIEDE2000 of display light (n, 3)."""
    return np.asarray(ciede2000(light_to_lab(after), light_to_lab(before)))


def effect(subject: Subject, gathered: Gathered) -> Effect:
    """What the look does on the stills that were gathered, every still alike; without any on the built-in colours."""
    code = subject.feed(greys(STOPS))
    plain, graded = (signal_percent(subject.light(f(code))) for f in (subject.plain, subject.graded))
    contrast = max(log_slope(graded), 1e-2) / max(log_slope(plain), 1e-2)
    black, white = float(graded[0]), float(graded.max())
    count = len(gathered.means)
    if count:
        gain = float(np.mean(gathered.gains)) if gathered.gains else None
        on = "1 still" if count == 1 else f"{count} stills"
        mean, most = float(np.mean(gathered.means)), float(np.mean(gathered.most))
        return Effect(on, mean, most, contrast, black, white, gain)
    mean, most, gain = _built_in(subject)
    return Effect("built-in colours", mean, most, contrast, black, white, gain)


def _built_in(subject: Subject) -> tuple[float, float, float | None]:
    scene, weight = [greys(stops_range(-4.0, 3.0, 0.5))], []
    for name, stops, share in PARTS:
        colours = np.exp2(np.array(stops))[:, None, None] * scene_colours()[name].scene
        scene.append(colours.reshape(-1, 3))
        weight.append(np.full(len(scene[-1]), share / len(scene[-1])))
    total = sum(share for *_, share in PARTS)
    weights = np.concatenate([np.full(len(scene[0]), total / len(scene[0])), *weight])
    code = subject.feed(np.concatenate(scene))
    before, after = (subject.light(f(code)) for f in (subject.plain, subject.graded))
    moved = difference(before, after)
    order = np.argsort(moved)
    share = np.cumsum(weights[order]) / weights.sum()
    parted = separation(before, after)
    most = float(moved[order][int(np.searchsorted(share, 0.95))])
    return float(weights @ moved / weights.sum()), most, None if parted is None else parted.gained
