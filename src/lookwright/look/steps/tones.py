"""Shadows, middle and highlights, each with its own light and tint."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from lookwright.arrays import Array
from lookwright.colour.balance import balance_matrix
from lookwright.colour.spaces.oklab import scene_to_opponent, stops_from_grey

from .base import Context, Domain, Op, Step, in_stops
from .params import Declared, Param
from .rising import Shift, above
from .tints import between_the_ends, grey_spared, spare_grey


class Tone(Declared):
    """What is done to one part of the scale."""

    stops: float = Param(
        0.0, low=-2.0, high=2.0, neutral=0.0, unit="stops", soft=(-0.7, 0.7), help="light, + is brighter", main=True
    )
    mired: float = Param(
        0.0,
        low=-60.0,
        high=60.0,
        neutral=0.0,
        unit="mired",
        soft=(-20.0, 20.0),
        help="tint along the blackbody line, + is warmer, - is cooler; a grey gets what `balance` would give it",
        source="sign of conversion filters, as in balance",
    )
    tint: float = Param(
        0.0,
        low=-0.02,
        high=0.02,
        neutral=0.0,
        unit="Duv",
        soft=(-0.006, 0.006),
        help="tint across the blackbody line, + is greener, - is toward magenta",
        source="Duv as in ANSI C78.377",
    )

    def ratios(self) -> Array:
        """(2,) a/L and b/L that the tint adds."""
        return scene_to_opponent(balance_matrix(self.mired, self.tint) @ np.ones(3))[1:]

    def in_words(self) -> str:
        """What is done, or nothing."""
        parts = []
        if self.stops:
            parts.append(in_stops(self.stops, "+"))
        if self.mired:
            parts.append(f"{abs(self.mired):g} mired {'warmer' if self.mired > 0 else 'cooler'}")
        if self.tint:
            parts.append(f"{abs(self.tint):g} Duv {'greener' if self.tint > 0 else 'toward magenta'}")
        return ", ".join(parts)


class Tones(Step):
    """Light and tint of shadows, middle and highlights.

    Light is a gain by the level of the colour itself, so hue and saturation stay and black stays black; the scale of
    greys rises for every value of the parameters (see ``rising.py``). Tints are added as a mixture of light would, the
    same to every colour of a level. Deep black and bright white take none.
    """

    takes: ClassVar[Domain] = "opponent"
    gives: ClassVar[Domain] = "opponent"
    summary: ClassVar[str] = "shadows, middle and highlights, each with its light in stops and a tint"

    kind: Literal["tones"] = "tones"
    shadows: Tone = Field(default_factory=Tone, description="what lies below the lower border")
    middle: Tone = Field(default_factory=Tone, description="what lies between the borders: middle grey, most faces")
    highlights: Tone = Field(default_factory=Tone, description="what lies above the upper border")
    shadows_below: float = Param(
        -2.0,
        low=-6.0,
        high=0.0,
        neutral=None,
        unit="stops",
        soft=(-4.0, -1.0),
        tunable=False,
        help="where shadows meet the middle, from middle grey",
    )
    highlights_above: float = Param(
        2.0,
        low=0.0,
        high=6.0,
        neutral=None,
        unit="stops",
        soft=(1.0, 4.0),
        tunable=False,
        help="where highlights begin, from middle grey; lit faces lie 1.1 to 1.7 over it",
    )
    width: float = Param(
        3.0,
        low=1.5,
        high=6.0,
        neutral=None,
        unit="stops",
        soft=(2.0, 5.0),
        tunable=False,
        help="how gently one tone gives way to the next, over both sides of a border together",
    )
    spare_grey: float = spare_grey()

    def prepare(self, context: Context) -> Op:
        tones = (self.shadows, self.middle, self.highlights)
        low, high, width = self.shadows_below, self.highlights_above, self.width
        light = (self.shadows.stops, self.middle.stops, self.highlights.stops)
        shift = Shift(light, low, high, width) if any(light) else None
        tints = [t.ratios() for t in tones] if any(t.mired or t.tint for t in tones) else None

        def apply(x: Array) -> Array:
            stops = stops_from_grey(x[..., 0])
            lightness, ratios = x[..., :1], x[..., 1:]
            if shift is not None:
                # Light is a cube of Oklab lightness: s stops are a factor 2^(s/3).
                lightness = lightness * np.exp2(shift(stops) / 3.0)[..., None]
            if tints is not None:
                over_low, over_high = above(stops, low, width), above(stops, high, width)
                shares = (1.0 - over_low, over_low - over_high, over_high)
                taken = between_the_ends(stops) * grey_spared(stops, self.spare_grey)
                for share, tint in zip(shares, tints, strict=True):
                    ratios = ratios + (share * taken)[..., None] * tint
            return np.concatenate([lightness, ratios], axis=-1)

        return Op("tones", apply)

    def in_words(self) -> str:
        parts = [
            f"{name} {words}"
            for name in ("shadows", "middle", "highlights")
            if (words := getattr(self, name).in_words())
        ]
        if not parts:
            return "leaves every tone as it is"
        text = (
            "; ".join(parts) + f" (shadows below {self.shadows_below:+g}, highlights above {self.highlights_above:+g})"
        )
        if self.spare_grey and any(t.mired or t.tint for t in (self.shadows, self.middle, self.highlights)):
            text += f", the grey card spared {self.spare_grey * 100:.0f} % of the tint"
        return text
