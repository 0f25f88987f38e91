"""Warm and cool poles of a frame, their separation, its tints and tones.

Everything is taken from display light in Oklab (Ottosson 2020, refined matrices): that is the picture a viewer sees.
Pixels are weighted by their chroma, so that greys, whose hue means nothing, do not vote.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.spaces.oklab import guarded, light_to_oklab
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES

from .levels import checked

WARM_AXIS_DEG = 67.0
"""Oklab hue of light that is warmer than the white: a 3200 K full radiator seen under D65 has 66.8 degrees (computed
with spaces.planckian). Hues within 90 degrees of it are called warm, the others cool."""

NEUTRAL_CHROMA = 0.01
"""Oklab chroma below which a pixel counts as neutral. About one unit of CIELAB chroma, the size of a just visible
difference (L of Oklab runs to 1 where L* runs to 100; rule of thumb, no source)."""

LEAST_SHARE = 0.001
"""A side with fewer of the frame's pixels than this is called absent: a tenth of a percent, some 45 x 45 pixels of a
1920 x 1080 frame. Our choice."""

SHADOWS_PERCENT = (2.0, 25.0)
HIGHLIGHTS_PERCENT = (60.0, 98.0)
"""Bands of signal level (gamma 2.4) in which tints are taken: dark but above the noise, bright but not clipped. Our
choice."""

MOST = 500_000
"""Pixels of a frame that are looked at."""

PERCENTILES = (1, 5, 25, 50, 75, 95, 99)


@dataclass(frozen=True)
class Pole:
    """Where the warm (or cool) colours of a frame gather."""

    name: str
    share: float
    """Share of all pixels that are on this side and not neutral, 0..1; 0 when the side is absent."""
    hue_deg: float | None
    """Chroma-weighted circular mean of Oklab hue, 0..360; None when the side is absent."""
    gathered: float
    """Length of the mean hue vector, 0..1: 1 when all hues are one, near 0 when they scatter."""
    level: float
    """Chroma-weighted mean luminance as signal percent at gamma 2.4."""
    chroma: float
    """Mean Oklab chroma of the side's pixels."""
    saturation: float
    """Mean of chroma over (guarded) lightness, which does not move with exposure."""
    lab: tuple[float, float, float] | None
    """Chroma-weighted mean Oklab colour."""

    def in_words(self) -> str:
        """One clause for a report."""
        if self.hue_deg is None:
            return f"no {self.name} part"
        return (
            f"{self.name} part {100 * self.share:.0f} % of the frame at hue {self.hue_deg:.0f} degrees, "
            f"level {self.level:.0f} %, chroma {self.chroma:.3f}"
        )


@dataclass(frozen=True)
class Tint:
    """Mean colour of the pixels in a band of levels."""

    band: tuple[float, float]
    """Signal percent at gamma 2.4."""
    share: float
    chroma: float
    hue_deg: float | None
    """None when there are no such pixels or their mean is neutral to 0.001."""
    ab: tuple[float, float]


@dataclass(frozen=True)
class Poles:
    """Colour and tone of a frame."""

    warm: Pole
    cool: Pole
    neutral_share: float
    hue_separation_deg: float | None
    """Angle between the poles, 0..180; None when a side is absent."""
    distance: float
    """Euclidean distance of the two mean colours in Oklab; 0 when a side is absent."""
    colour_distance: float
    """The same in the a, b plane alone."""
    shadows: Tint
    highlights: Tint
    tones: dict[str, float]
    """Percentiles of luminance as signal percent at gamma 2.4, ``p1`` .. ``p99``."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)

    def in_words(self) -> str:
        """One sentence."""
        text = f"{self.warm.in_words()}; {self.cool.in_words()}"
        if self.hue_separation_deg is not None:
            text += f"; they lie {self.hue_separation_deg:.0f} degrees and {self.distance:.3f} apart"
        return text[0].upper() + text[1:] + "."


def _hue(a: float, b: float) -> float:
    return float(np.degrees(np.arctan2(b, a)) % 360.0)


def _pole(name: str, lab: Array, chroma: Array, percent: Array, member: NDArray[np.bool_]) -> Pole:
    share = float(member.mean())
    if share < LEAST_SHARE:
        return Pole(name, 0.0, None, 0.0, 0.0, 0.0, 0.0, None)
    some, weight = lab[member], chroma[member]
    total = float(weight.sum())
    # Chroma times the unit hue vector is (a, b) itself: the weighted circular mean is the direction of the sum.
    a, b = some[:, 1].sum() / total, some[:, 2].sum() / total
    mean = (weight[:, None] * some).sum(axis=0) / total
    return Pole(
        name,
        share,
        _hue(a, b),
        float(np.hypot(a, b)),
        float((weight * percent[member]).sum() / total),
        float(weight.mean()),
        float((weight / guarded(some[:, 0])).mean()),
        (float(mean[0]), float(mean[1]), float(mean[2])),
    )


def _tint(lab: Array, percent: Array, band: tuple[float, float]) -> Tint:
    member = (percent >= band[0]) & (percent <= band[1])
    if not member.any():
        return Tint(band, 0.0, 0.0, None, (0.0, 0.0))
    a, b = (float(v) for v in lab[member, 1:].mean(axis=0))
    chroma = float(np.hypot(a, b))
    return Tint(band, float(member.mean()), chroma, _hue(a, b) if chroma > 1e-3 else None, (a, b))


def signal_percent(light: Array) -> Array:
    """Luminance of display light (..., 3) as signal percent at gamma 2.4 (BT.1886 with black 0); negatives give 0."""
    y = np.asarray(light, np.float64) @ primaries(DISPLAY_PRIMARIES).luminance
    return 100.0 * np.maximum(y, 0.0) ** (1.0 / 2.4)


def poles(light: NDArray[Any], most: int = MOST) -> Poles:
    """Measure a frame of display light.

    Parameters
    ----------
    light
        (..., 3) display light, linear BT.2020, 1 = reference white (see :func:`levels.display_light`). Finite;
        negatives are allowed.
    most
        Frames with more pixels are thinned to every n-th pixel in reading order, n the smallest number without the
        factors 2, 3 and 5 that leaves no more than this. Shares and means then carry a
        sampling error of the order of 1/sqrt(most).

    Raises
    ------
    PictureError
        No pixels, not three channels, NaN or infinity.
    """
    flat = thinned(checked(light, "frame"), most)
    lab = light_to_oklab(np.asarray(flat, np.float64))
    percent = signal_percent(flat)
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    coloured = chroma >= NEUTRAL_CHROMA
    axis = np.radians(WARM_AXIS_DEG)
    toward_warm = lab[:, 1] * np.cos(axis) + lab[:, 2] * np.sin(axis) >= 0.0
    warm = _pole("warm", lab, chroma, percent, coloured & toward_warm)
    cool = _pole("cool", lab, chroma, percent, coloured & ~toward_warm)
    separation, distance, plane = None, 0.0, 0.0
    if warm.lab is not None and cool.lab is not None and warm.hue_deg is not None and cool.hue_deg is not None:
        separation = abs((warm.hue_deg - cool.hue_deg + 180.0) % 360.0 - 180.0)
        step = np.subtract(warm.lab, cool.lab)
        distance, plane = float(np.linalg.norm(step)), float(np.hypot(step[1], step[2]))
    tones = dict(zip((f"p{p}" for p in PERCENTILES), np.percentile(percent, PERCENTILES).tolist(), strict=True))
    return Poles(
        warm,
        cool,
        float(1.0 - coloured.mean()),
        separation,
        distance,
        plane,
        _tint(lab, percent, SHADOWS_PERCENT),
        _tint(lab, percent, HIGHLIGHTS_PERCENT),
        tones,
    )


def thinned(pixels: NDArray[Any], most: int = MOST) -> NDArray[Any]:
    """(n, 3) of the pixels that :func:`poles` looks at."""
    # A step with no small factors, so that thinning does not fall into columns of the picture.
    flat = pixels.reshape(-1, 3)
    return flat[:: _thinning(len(flat), most)]


def _thinning(count: int, most: int) -> int:
    step = -(-count // most)
    if step > 1:
        while any(step % p == 0 for p in (2, 3, 5)):
            step += 1
    return step
