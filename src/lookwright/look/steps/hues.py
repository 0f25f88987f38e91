"""Up to eight bands of hue, each turned, coloured and lit by itself."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from lookwright.arrays import Array
from lookwright.colour.spaces.hue_flow import HueMap, bump, colour_fade, rotate
from lookwright.colour.spaces.oklab import hue_and_saturation

from .base import Context, Domain, Op, Step
from .params import Declared, Param


class Band(Declared):
    """One band of hues."""

    centre: float = Param(
        0.0, low=0.0, high=360.0, neutral=None, unit="deg", tunable=False, help="Oklab hue at the middle"
    )
    width: float = Param(
        30.0,
        low=10.0,
        high=90.0,
        neutral=None,
        unit="deg",
        tunable=False,
        help="to either side, where the effect has halved",
    )
    turn: float = Param(
        0.0,
        low=-40.0,
        high=40.0,
        neutral=0.0,
        unit="deg",
        soft=(-20.0, 20.0),
        help="turns hues, + toward larger angles; the middle of a narrow band turns somewhat less, so that none fold",
    )
    saturation: float = Param(1.0, low=0.0, high=2.0, neutral=1.0, soft=(0.5, 1.5), help="factor on saturation")
    light: float = Param(
        0.0, low=-2.0, high=2.0, neutral=0.0, unit="stops", soft=(-0.5, 0.5), help="brighter or darker"
    )


class Hues(Step):
    """Bands of hue, periodic and smooth; hues never fold whatever the turns."""

    takes: ClassVar[Domain] = "opponent"
    gives: ClassVar[Domain] = "opponent"
    summary: ClassVar[str] = "bands of hue, each with its own turn, saturation and light"

    kind: Literal["hues"] = "hues"
    band: tuple[Band, ...] = Field(default=(), max_length=8, description="up to eight bands")

    def prepare(self, context: Context) -> Op:
        bands = [(np.radians(b.centre), np.radians(b.width), b) for b in self.band]

        def velocity(hue: Array) -> Array:
            return sum((np.radians(b.turn) * bump(hue, c, w) for c, w, b in bands), np.zeros_like(hue))

        turning = any(b.turn for b in self.band)
        turned = HueMap(velocity) if turning else None

        def apply(x: Array) -> Array:
            hue, saturation = hue_and_saturation(x)
            fade = colour_fade(saturation)
            log_gain = np.zeros_like(hue)
            light = np.zeros_like(hue)
            for c, w, b in bands:
                weight = bump(hue, c, w) * fade
                # 0 is allowed as a factor: the band then fades to grey at its middle.
                log_gain = log_gain + weight * np.log(max(b.saturation, 1e-3))
                light = light + weight * b.light
            ratios = x[..., 1:] * np.exp(log_gain)[..., None]
            if turned is not None:
                ratios = rotate(ratios, fade * turned.displacement(hue))
            # Light is a cube of Oklab lightness: s stops are a factor 2^(s/3).
            lightness = x[..., :1] * np.exp2(light / 3.0)[..., None]
            return np.concatenate([lightness, ratios], axis=-1)

        return Op("hues", apply)

    def in_words(self) -> str:
        parts = []
        for b in self.band:
            acts = []
            if b.turn:
                acts.append(f"turned {b.turn:+g} deg")
            if b.saturation != 1:
                acts.append(f"colour at {b.saturation * 100:.0f} %")
            if b.light:
                acts.append(f"light {b.light:+g} stop(s)")
            if acts:
                parts.append(f"hues round {b.centre:g} deg (width {b.width:g}): " + ", ".join(acts))
        return "; ".join(parts) or "leaves every band of hue as it is"
