"""What tuning is to reach, each as a list of residuals: before/after pairs, levels on marks, and separation.

Every goal scales its residuals so that their sum of squares is ``weight`` times a mean square in units of about one
just visible difference. So a weight means the same for all, whatever the number of samples.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import WARM_AXIS_DEG
from lookwright.colour.luma import luma_percent
from lookwright.colour.spaces.signal import Signal

from .model import Seen

SOFT = 6.0
"""Residual (in just visible differences) from which a sample counts by its size, not its square: what cannot be matched
(a face that moved, a shadow that only one frame has) must not pull at everything else."""

LEVEL_TOLERANCE = 2.0
"""Percent of signal within which a level is met: about half of what a third of a stop makes at face level."""

LEVEL_SOFT = 1.0
"""Tolerances off from which a level counts by its size: where not all can be met, few are missed by much rather than
all by some."""


class Goal:
    """One block of samples and the residuals on it."""

    name: str
    words: str
    """What this goal measures, with its unit, for reports."""
    weight: float
    part: slice
    """Its samples in the model."""
    floor: float
    """Standard deviation of one residual that is there even when the fit is perfect: file depth, rounding, grain."""
    pieces: float
    """How many independent residuals the block is worth. Neighbouring pixels and quantiles go together."""
    data: bool = True
    """Whether it says something about parameters (False for barriers and limits)."""

    def residuals(self, seen: Seen) -> Array:
        """(m,) residuals of this goal's own samples, without the weight."""
        raise NotImplementedError

    def differences(self, base: Seen, moved: Seen, at_base: Array) -> Array:
        """Change of the residuals from ``base`` to the nearby ``moved``."""
        return self.residuals(moved) - at_base

    def distance(self, seen: Seen) -> float:
        """Root mean square, in the unit of :attr:`words`."""
        return float(np.sqrt(np.sum(self.residuals(seen) ** 2)))


def softened(error: Array, size: Array, soft: float = SOFT) -> Array:
    """Residuals ``error`` (n, k) whose ``size`` (n,) counts by the square when small and linearly when large.

    The pseudo-Huber loss (Charbonnier; scipy's ``soft_l1``): 2 c^2 (sqrt(1 + (s/c)^2) - 1), written as a factor so that
    its sum of squares is that loss. No change of sign or direction.
    """
    ratio = size / soft
    with np.errstate(invalid="ignore", divide="ignore"):
        factor = np.sqrt(2.0 * (np.sqrt(1.0 + ratio**2) - 1.0)) / ratio
    # Below a thousandth the root loses its digits; the factor is 1 to 1e-7 there.
    return error * np.where(ratio > 1e-3, factor, 1.0)[:, None]


@dataclass
class Pairs(Goal):
    """Before/after pairs: every sample has its own target."""

    part: slice
    target: Array
    """(n, 3) Oklab times 100 of the graded frames."""
    weight: float = 1.0
    name: str = "pairs"
    words: str = "colour difference (Oklab x 100, root mean square)"
    floor: float = 0.3
    """An 8-bit code is 0.1 to 0.5 units in Oklab x 100 over the scale (computed), uniform: rounded up."""

    def __post_init__(self) -> None:
        # Pixels of one object are one observation: a hundred or so things are in a frame (our choice).
        self.pieces = min(float(len(self.target)), 100.0)

    def residuals(self, seen: Seen) -> Array:
        error = seen.lab - self.target
        return (softened(error, np.linalg.norm(error, axis=1)) / np.sqrt(len(error))).ravel()

    def distance(self, seen: Seen) -> float:
        return float(np.sqrt(np.mean(np.sum((seen.lab - self.target) ** 2, axis=1))))


def level_met(level: float, wanted: float, most: bool) -> bool:
    """Whether ``level`` is within the tolerance of ``wanted``; where that is the ``most`` it may be, also below."""
    over = level - wanted
    return over <= LEVEL_TOLERANCE and (most or over >= -LEVEL_TOLERANCE)


@dataclass(frozen=True)
class Target:
    """A mark with the level it should sit at."""

    still: str
    mark: str
    level: float
    part: slice
    """Its samples, within the goal's own."""
    most: bool = False
    """The level is the most it may be: a silhouette sits at 15 % or under (common practice, no source)."""

    def met(self, level: float) -> bool:
        """Whether ``level`` is within the tolerance."""
        return level_met(level, self.level, self.most)

    def label(self, several: bool) -> str:
        """``wall`` or, when several stills have marks, ``wide: wall``."""
        return f"{self.still}: {self.mark}" if several else self.mark


@dataclass
class Levels(Goal):
    """Median signal levels at marks."""

    part: slice
    output: Signal
    targets: tuple[Target, ...]
    weight: float = 1.0
    soft: float = LEVEL_SOFT
    name: str = "levels"
    words: str = "distance from the wanted levels (root mean square, % of signal)"
    floor: float = 0.5
    """In tolerances: a level within half a tolerance is as good as met."""

    def __post_init__(self) -> None:
        self.pieces = float(len(self.targets))

    def levels(self, seen: Seen) -> Array:
        """(targets,) percent of signal: the mean of the middle fifth of each mark's luma, a median with a slope."""
        luma = luma_percent(seen.signal, self.output)
        return np.array([middle(luma[t.part]) for t in self.targets])

    def off(self, seen: Seen) -> Array:
        """(targets,) percent of signal over the wanted levels; 0 under one that is the most it may be."""
        over = self.levels(seen) - np.array([t.level for t in self.targets])
        return np.where([t.most for t in self.targets], np.maximum(over, 0.0), over)

    def residuals(self, seen: Seen) -> Array:
        # A target is a wish for one number: each counts whole, so that several are all met. One out of reach counts by
        # its size, or it would bend everything for the last percent.
        error = self.off(seen) / LEVEL_TOLERANCE
        return softened(error[:, None], np.abs(error), self.soft).ravel()

    def distance(self, seen: Seen) -> float:
        return float(np.sqrt(np.mean(self.off(seen) ** 2)))


@dataclass
class Kept(Goal):
    """Colour and blacks stay as they were: levels say nothing about them, so they must not pay for them.

    Colour is a/L and b/L of Oklab, which do not move with exposure, read at the lightness of a middle tone. Blacks are
    the darkest twentieth of the picture: without them stray light would be the cheapest way to lift a face.
    """

    part: slice
    target: Array
    """(n, 2) ratios at the start."""
    black: float
    """Lightness of the blacks at the start."""
    weight: float = 1.0
    name: str = "colour kept"
    words: str = "change of colour at equal lightness and of the blacks (Oklab x 100, root mean square)"
    floor: float = 0.3
    pieces: float = 1.0
    data: bool = False

    @classmethod
    def of(cls, part: slice, start: Seen, weight: float) -> Kept:
        """Keep what ``start`` shows."""
        return cls(part, colour_ratios(start.lab), blacks(start.lab), weight)

    def residuals(self, seen: Seen) -> Array:
        error = MIDDLE * (colour_ratios(seen.lab) - self.target)
        colour = (softened(error, np.linalg.norm(error, axis=1)) / np.sqrt(len(error))).ravel()
        black = np.array([[BLACKS_SHARE * (blacks(seen.lab) - self.black)]])
        return np.concatenate([colour, softened(black, np.abs(black[:, 0])).ravel()])


@dataclass
class LightKept(Goal):
    """Lightness stays where only a separation is wanted: hues part by colour, not by opening exposure."""

    part: slice
    target: Array
    """(n,) lightness at the start."""
    weight: float = 1.0
    name: str = "light kept"
    words: str = "change of lightness (Oklab x 100, root mean square)"
    floor: float = 0.3
    pieces: float = 1.0
    data: bool = False

    def residuals(self, seen: Seen) -> Array:
        return (seen.lab[:, 0] - self.target) / np.sqrt(len(self.target))


BLACKS_SHARE = 0.5
"""Weight of the lightness of blacks: a lift by 2, which is just seen in the dark, costs as much as one visible change
of all colours (our choice)."""


def blacks(lab: Array) -> float:
    """Mean lightness of the darkest twentieth of (n, 3) Oklab x 100."""
    ordered = np.sort(lab[:, 0])
    return float(ordered[: max(1, len(ordered) // 20)].mean())


MIDDLE = 50.0
"""Oklab lightness, times 100, at which changes of colour are read."""


def colour_ratios(lab: Array) -> Array:
    """(n, 2) a/L and b/L of (n, 3) Oklab x 100; near black, where colour is not seen, they fade to zero."""
    lightness = lab[:, :1]
    return lab[:, 1:] * lightness / (lightness * lightness + 15.0**2)


def middle(values: Array) -> float:
    """Mean of the middle fifth of the sorted values (n,): at least one, symmetric about the median."""
    ordered = np.sort(values)
    n = len(ordered)
    cut = min(int(0.4 * n), (n - 1) // 2)
    return float(ordered[cut : n - cut].mean())


SIDE_WIDTH = 1.0
"""Width in Oklab x 100, measured along the warm axis, in which a colour passes from the cool side to the warm one: the
chroma below which ``measure.poles`` calls a pixel neutral."""


def soft_poles(lab: Array) -> Array:
    """(2, 3) chroma-weighted mean colour of the warm and of the cool side, as smooth functions of the samples.

    ``measure.poles`` with its sharp membership made smooth, so that it has derivatives. Samples (n, 3) in Oklab x 100.
    """
    axis = np.radians(WARM_AXIS_DEG)
    along = lab[:, 1] * np.cos(axis) + lab[:, 2] * np.sin(axis)
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    colour = chroma * chroma / (chroma * chroma + SIDE_WIDTH**2) * chroma  # neutrals have no vote
    warm = 0.5 * (1.0 + np.tanh(along / SIDE_WIDTH))
    found = []
    for member in (warm, 1.0 - warm):
        weight = member * colour
        found.append(weight @ lab / (weight.sum() + 1e-9))
    return np.array(found)


def pole_angle(lab: Array) -> float:
    """Degrees between the hues of the warm and the cool side, 0..180."""
    warm, cool = soft_poles(lab)
    turn = np.degrees(np.arctan2(warm[2], warm[1]) - np.arctan2(cool[2], cool[1]))
    return float(abs((turn + 180.0) % 360.0 - 180.0))


@dataclass
class Separation(Goal):
    """At least so many degrees between the warm and the cool side of the stills."""

    part: slice
    degrees: float
    weight: float = 1.0
    name: str = "separation"
    words: str = "degrees short of the wanted separation"
    floor: float = 1.0
    data: bool = False

    def __post_init__(self) -> None:
        self.pieces = 1.0

    def residuals(self, seen: Seen) -> Array:
        # Five degrees short weigh as one just visible difference.
        return np.array([max(0.0, self.degrees - pole_angle(seen.lab)) / 5.0])

    def distance(self, seen: Seen) -> float:
        return max(0.0, self.degrees - pole_angle(seen.lab))
