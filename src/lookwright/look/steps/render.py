"""The plain rendering: scene light to display light at constant hue, without film."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from lookwright.colour import plain
from lookwright.colour.rendering.plain_rendering import THRESHOLD, PlainRendering
from lookwright.colour.spaces.encodings import Encoding
from lookwright.colour.tone import ToneCurve, for_peak

from .base import Context, Domain, Op, Step
from .params import Param

LEAST_PEAK = 0.5
"""Of reference white: a display darker than that is none that a look is made for."""


def threshold() -> Any:
    """The declaration that both renderings have: from where on colours are compressed to fit the output."""
    return Param(
        THRESHOLD,
        low=0.3,
        high=0.98,
        neutral=None,
        unit="of the boundary",
        soft=(0.6, 0.9),
        tunable=False,
        help="colours nearer to neutral than this are not compressed to fit the output",
    )


def peak(help: str) -> Any:
    """The declaration that both renderings have; ``help`` says what lies there."""
    return Param(
        0.0,
        low=0.0,
        high=50.0,
        neutral=None,
        unit="x reference white",
        soft=(0.0, 20.0),
        tunable=False,
        help=help,
    )


class Render(Step):
    """A plain, neutral rendering for a display: grey at a chosen level, a slope, a shoulder, a toe.

    One curve makes brightness of brightness, hue stays, and colour fades as the curve flattens, on the way to white and
    in black; what the output cannot show is brought in within the same step, so ``gamut`` has nothing left to do. What
    is said of grey, slope, white and toe holds at a peak of 100 cd/m2; other peaks follow as ACES 2's tone scale does.
    """

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "display"
    summary: ClassVar[str] = "scene light to display light by a plain curve"
    rendering: ClassVar[bool] = True
    fits: ClassVar[bool] = True

    kind: Literal["render"] = "render"
    grey: float = Param(
        plain.GREY_PERCENT,
        low=25.0,
        high=60.0,
        neutral=plain.GREY_PERCENT,
        unit="% signal at gamma 2.4",
        soft=(34.0, 48.0),
        help="where 18 % grey lands",
        source="10 cd/m2 of 100: ACES 2 tone scale, as OpenColorIO computes it",
        acts_on="level",
        main=True,
    )
    slope: float = Param(
        plain.SLOPE,
        low=0.7,
        high=2.2,
        neutral=plain.SLOPE,
        soft=(0.95, 1.6),
        scale="log",
        help="slope at grey, log light against log light",
        source="between 1.0 (average surround) and 1.25 (dim): Bartleson & Breneman 1967, figures from memory",
        acts_on="slope",
        main=True,
    )
    shoulder: float = Param(
        plain.SHOULDER_STOPS,
        low=0.3,
        high=4.0,
        neutral=plain.SHOULDER_STOPS,
        unit="stops",
        help="how gently highlights roll off",
        main=True,
    )
    white: float = Param(
        plain.WHITE_STOPS,
        low=2.5,
        high=13.0,
        neutral=plain.WHITE_STOPS,
        unit="stops over grey",
        soft=(5.0, 11.0),
        help="light that reaches the peak",
    )
    toe: float = Param(
        plain.TOE,
        low=0.0,
        high=0.1,
        neutral=plain.TOE,
        unit="display light",
        soft=(0.0, 0.05),
        help="how soon the dark end bends down",
        main=True,
    )
    peak: float = peak("brightest light; 0 takes the output's own: 1, or 4.9 (1000 cd/m2) for PQ and HLG")
    skew: float = Param(
        0.0,
        low=0.0,
        high=20.0,
        neutral=0.0,
        unit="deg",
        soft=(0.0, 10.0),
        help="how far bright warm lights turn toward yellow, as fire does on film",
    )
    threshold: float = threshold()

    def nits(self, output: Encoding) -> float:
        """The peak in cd/m2 for an output: what is asked for, held within what the output can carry."""
        if not self.peak:
            return output.rendered_nits
        return min(max(self.peak, LEAST_PEAK), output.peak) * output.unit_nits

    def curve(self, output: Encoding | None = None) -> ToneCurve:
        """The tone curve of these values for an output; without one, at 100 cd/m2."""
        nits, unit = (self.nits(output), output.unit_nits) if output else (100.0, 100.0)
        grey = plain.grey_light(self.grey)
        return for_peak(grey, self.slope, self.shoulder, self.white, self.toe, nits, unit)

    def rendering_for(self, context: Context) -> PlainRendering:
        """The rendering for an output."""
        curve, output = context.output.encoding, context.output.primaries.name
        volume = plain.volume(curve.name, output, self.nits(curve))
        return PlainRendering(self.curve(curve), volume, self.skew, self.threshold)

    def prepare(self, context: Context) -> Op:
        return Op("render", self.rendering_for(context))

    def in_words(self) -> str:
        text = (
            f"renders plainly for the display: 18 % grey to {self.grey:g} % signal, slope {self.slope:g}, "
            f"white {self.white:g} stops over grey, shoulder {self.shoulder:g} stops"
        )
        if self.toe:
            text += f", toe {self.toe:g}"
        if self.peak:
            text += f", up to {self.peak:g} x reference white"
        if self.skew:
            text += f", warm lights {self.skew:g} degrees toward yellow"
        return text
