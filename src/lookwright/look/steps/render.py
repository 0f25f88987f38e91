"""The plain rendering: scene light to display light by one curve, without film."""

from __future__ import annotations

from typing import ClassVar, Literal

from lookwright.colour import plain
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES
from lookwright.colour.tone import ToneCurve

from .base import Context, Domain, Op, Step
from .params import Param


class Render(Step):
    """A plain, neutral rendering for a display: grey at a chosen level, a slope, a shoulder, a toe.

    The curve acts on each channel of the scene primaries (ACEScg), adapted to D65: sources lose colour on their way to
    white as over-exposed pictures do. Exact on greys; it does not keep hue, the less so the stronger a colour and the
    brighter its light. Light outside the scene primaries, such as that of a blue LED (460 nm), has a negative channel:
    it turns violet, and with ``gamut`` behind it falls to black some two stops over grey.
    """

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "display"
    summary: ClassVar[str] = "scene light to display light by a plain curve"
    rendering: ClassVar[bool] = True

    kind: Literal["render"] = "render"
    grey: float = Param(
        plain.GREY_PERCENT,
        low=25.0,
        high=60.0,
        neutral=plain.GREY_PERCENT,
        unit="% signal at gamma 2.4",
        soft=(36.0, 48.0),
        help="where 18 % grey lands",
        source="common practice, no source",
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
    )
    shoulder: float = Param(
        plain.SHOULDER_STOPS,
        low=0.3,
        high=4.0,
        neutral=plain.SHOULDER_STOPS,
        unit="stops",
        help="how gently highlights roll off",
    )
    white: float = Param(
        plain.WHITE_STOPS,
        low=2.5,
        high=9.0,
        neutral=plain.WHITE_STOPS,
        unit="stops over grey",
        soft=(4.5, 7.0),
        help="light that reaches the peak",
    )
    toe: float = Param(
        plain.TOE,
        low=0.0,
        high=0.05,
        neutral=plain.TOE,
        unit="display light",
        soft=(0.0, 0.01),
        help="how soon the dark end bends down",
    )
    peak: float = Param(
        plain.PEAK,
        low=0.5,
        high=50.0,
        neutral=None,
        unit="x reference white",
        soft=(0.8, 5.0),
        scale="log",
        tunable=False,
        help="brightest light; above 1 only for PQ and HLG outputs",
    )

    def curve(self) -> ToneCurve:
        """The tone curve of these values."""
        return ToneCurve(plain.grey_light(self.grey), self.slope, self.shoulder, self.white, self.toe, self.peak)

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
