"""Saturation, with roll-offs and a density that darkens colour as dyes do."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.hue_flow import colour_fade
from lookwright.colour.spaces.oklab import stops_from_grey

from . import holds
from .base import Context, Domain, Op, Step, smoothstep
from .params import Param


class Saturation(Step):
    """More or less colour at constant hue and, without density, constant lightness."""

    takes: ClassVar[Domain] = "opponent"
    gives: ClassVar[Domain] = "opponent"
    summary: ClassVar[str] = "more or less colour, rolled off in shadows and highlights, denser where wanted"

    kind: Literal["saturation"] = "saturation"
    amount: float = Param(
        1.0, low=0.0, high=2.0, neutral=1.0, soft=(0.6, 1.4), help="factor on saturation; 0 is grey", main=True
    )
    shadows: float = Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=0.0,
        soft=(0.0, 0.8),
        help="share of colour taken from shadows, from 2 to 6 stops under grey",
        main=True,
    )
    highlights: float = Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=0.0,
        soft=(0.0, 0.8),
        help="share of colour taken from highlights, from 2 to 6 stops over grey",
        main=True,
    )
    density: float = Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=0.0,
        soft=(0.0, 0.6),
        help="how much darker saturated parts go, as dye layers add up",
        main=True,
    )
    hold_skin: float = holds.hold("skin")
    hold_sky: float = holds.hold("sky")
    hold_leaves: float = holds.hold("leaves")

    def prepare(self, context: Context) -> Op:
        held = holds.bells(self)

        def free(ratios: Array) -> Array:
            hue, saturation = np.arctan2(ratios[..., 1], ratios[..., 0]), np.hypot(ratios[..., 0], ratios[..., 1])
            return holds.left_free(hue, held, colour_fade(saturation, holds.NEAR_NEUTRAL))[..., None]

        def apply(x: Array) -> Array:
            lightness = x[..., :1]
            stops = stops_from_grey(lightness)
            gain = self.amount * (1.0 - self.shadows * smoothstep((-stops - 2.0) / 4.0))
            gain = gain * (1.0 - self.highlights * smoothstep((stops - 2.0) / 4.0))
            if held:
                # A straight mixture with leaving the colour as it is: for any amount above 0, what comes out still
                # rises with what goes in along every hue.
                gain = 1.0 + (gain - 1.0) * free(x[..., 1:])
            ratios = x[..., 1:] * gain
            if self.density:
                # log of lightness falls with saturation, quadratic near neutral so that greys and the
                # slight colour of skin keep their level; bounded, so no colour goes black.
                a, b = ratios[..., :1], ratios[..., 1:]
                square = a * a + b * b  # a sum along so short an axis takes ten times as long
                fall = self.density * 0.6 * square / (square + 0.09)
                # By the saturation that has been made: lightness then changes alone, and cannot fold.
                lightness = lightness * np.exp(-fall * free(ratios) if held else -fall)
            return np.concatenate([lightness, ratios], axis=-1)

        return Op("saturation", apply)

    def in_words(self) -> str:
        parts = []
        if self.amount != 1:
            parts.append(f"sets saturation to {self.amount * 100:.0f} %")
        if self.shadows:
            parts.append(f"takes {self.shadows * 100:.0f} % of colour from deep shadows")
        if self.highlights:
            parts.append(f"takes {self.highlights * 100:.0f} % of colour from high lights")
        if self.density:
            parts.append(f"lets strong colour go darker (density {self.density:g})")
        return ", ".join(parts) + holds.in_words(self) if parts else "leaves saturation as it is"
