"""The plain rendering: scene light to display light by one curve, without film."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from ..spaces.primaries import matrix
from ..spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES
from .base import Array, Context, Domain, Op, Step
from .params import Param

GREY = 0.18
LN2 = float(np.log(2.0))


class ToneCurve:
    """Scene light to display light, one channel: a straight line in log-log with a shoulder and a toe.

    With x in stops from 18 % grey, the shoulder form is log2(y / grey) = a - w ln(1 + exp((a - s x - o) / w)):
    slope s below, a ceiling a above, joined over about w stops. s and o are solved in closed form so that grey
    lands on ``grey`` with exactly the asked slope; a is solved (bisection, once) so that ``white`` stops over grey
    give ``peak``. The toe is y^2 / (y + toe), which bends the dark end down; grey and slope are corrected for it.
    Odd for negative light, so it is finite, continuous and rising everywhere; invertible in closed form.
    """

    def __init__(self, grey: float, slope: float, shoulder: float, white: float, toe: float, peak: float) -> None:
        self.toe, self.width = toe, shoulder * LN2
        # The toe maps y to z = y^2/(y+k); find the y that gives grey, and the slope it costs there.
        self.grey = self._untoe(np.array(grey)).item()
        toe_slope = (self.grey + 2.0 * toe) / (self.grey + toe)
        peak_before = self._untoe(np.array(peak)).item()
        needed = np.log2(peak_before / self.grey)
        wanted = slope / toe_slope

        def at_white(ceiling: float) -> float:
            s, o = self._straight(ceiling, wanted)
            return float(self._bend(np.array(s * white + o), ceiling))

        low, high = needed, needed + 40.0
        if at_white(high) < needed:  # so flat a line never reaches the peak: leave it as bright as it gets
            low = high
        for _ in range(80):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if at_white(middle) < needed else (low, middle)
        self.ceiling = high
        self.slope, self.offset = self._straight(high, wanted)

    def _straight(self, ceiling: float, slope: float) -> tuple[float, float]:
        gap = float(np.log(np.expm1(ceiling / self.width))) if ceiling / self.width < 700 else ceiling / self.width
        return slope / -np.expm1(-ceiling / self.width), ceiling - self.width * gap

    def _bend(self, u: Array, ceiling: float) -> Array:
        return ceiling - self.width * np.logaddexp(0.0, (ceiling - u) / self.width)

    def _untoe(self, z: Array) -> Array:
        return 0.5 * (z + np.sqrt(z * z + 4.0 * self.toe * z))

    def __call__(self, light: Array) -> Array:
        """Display light of scene light, any shape."""
        size = np.maximum(np.abs(light), 1e-12)
        y = self.grey * np.exp2(self._bend(self.slope * np.log2(size / GREY) + self.offset, self.ceiling))
        if self.toe:
            y = y * y / (y + self.toe)
        return np.copysign(y, light)

    def inverse(self, light: Array) -> Array:
        """Scene light that gives this display light; light at or over the ceiling gives the last stop below it."""
        y = np.maximum(self._untoe(np.abs(light)), 1e-30)
        room = self.ceiling - np.log2(y / self.grey)
        room = np.maximum(room, 1e-6)
        u = self.ceiling - self.width * (room / self.width + np.log(-np.expm1(-room / self.width)))
        x = GREY * np.exp2((u - self.offset) / self.slope)
        return np.copysign(np.where(np.abs(light) < 1e-24, 0.0, x), light)


class Render(Step):
    """A plain, neutral rendering for a display: grey at a chosen level, a slope, a shoulder, a toe.

    The curve acts on each channel of the scene primaries (ACEScg), adapted to D65: strong sources lose colour on
    their way to white as over-exposed pictures do, and no channel of a real colour goes below zero.
    """

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "display"
    summary: ClassVar[str] = "scene light to display light by a plain curve"
    rendering: ClassVar[bool] = True

    kind: Literal["render"] = "render"
    grey: float = Param(
        42.0, low=25.0, high=60.0, neutral=42.0, unit="% signal at gamma 2.4", soft=(36.0, 48.0),
        help="where 18 % grey lands", source="common practice, no source",
    )  # fmt: skip
    slope: float = Param(
        1.15, low=0.7, high=2.2, neutral=1.15, soft=(0.95, 1.6), scale="log",
        help="slope at grey, log light against log light",
        source="between 1.0 (average surround) and 1.25 (dim): Bartleson & Breneman 1967, figures from memory",
    )  # fmt: skip
    shoulder: float = Param(
        1.6, low=0.3, high=4.0, neutral=1.6, unit="stops", help="how gently highlights roll off"
    )
    white: float = Param(
        6.0, low=2.5, high=9.0, neutral=6.0, unit="stops over grey", soft=(4.5, 7.0), help="light that reaches the peak"
    )
    toe: float = Param(
        0.0, low=0.0, high=0.05, neutral=0.0, unit="display light", soft=(0.0, 0.01),
        help="how soon the dark end bends down",
    )
    peak: float = Param(
        1.0, low=0.5, high=50.0, neutral=None, unit="x reference white", soft=(0.8, 5.0), scale="log", tunable=False,
        help="brightest light; above 1 only for PQ and HLG outputs",
    )  # fmt: skip

    def curve(self) -> ToneCurve:
        """The tone curve of these values."""
        return ToneCurve((self.grey / 100.0) ** 2.4, self.slope, self.shoulder, self.white, self.toe, self.peak)

    def prepare(self, context: Context) -> Op:
        curve = self.curve()
        to_display = matrix(SCENE_PRIMARIES, DISPLAY_PRIMARIES).T
        return Op("render", lambda x: curve(x) @ to_display)

    def in_words(self) -> str:
        text = (
            f"renders plainly for the display: 18 % grey to {self.grey:g} % signal, slope {self.slope:g}, "
            f"white {self.white:g} stops over grey, shoulder {self.shoulder:g} stops"
        )
        if self.toe:
            text += f", toe {self.toe:g}"
        return text


def plain_inverse() -> Op:
    """Display light to the scene light whose plain rendering it is: how display signals become sources."""
    curve = Render().curve()
    to_scene = matrix(DISPLAY_PRIMARIES, SCENE_PRIMARIES).T
    return Op("unrender", lambda x: curve.inverse(x @ to_scene))
