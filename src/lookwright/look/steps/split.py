"""The warm/cool split: hues gather at two poles, shadows cool and highlights warm a little."""

from __future__ import annotations

from functools import lru_cache
from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from lookwright.arrays import Array
from lookwright.colour.spaces.hue_flow import TURN, HueMap, bump, colour_fade, rotate
from lookwright.colour.spaces.oklab import hue_and_saturation, stops_from_grey

from .base import Context, Domain, Op, Step, smoothstep
from .params import Declared, Param


class Hold(Declared):
    """Hues that are left where they are, and out of the tints: skin."""

    hue: float = Param(
        45.0,
        low=0.0,
        high=360.0,
        neutral=None,
        unit="deg",
        soft=(35.0, 60.0),
        tunable=False,
        help="Oklab hue to hold; light and dark skin lie at 38 to 60 deg",
        source="measured skin patches and samples, ISO 17321-1 and CIE 224 data under D65",
    )
    width: float = Param(
        14.0,
        low=5.0,
        high=45.0,
        neutral=None,
        unit="deg",
        tunable=False,
        help="to either side, where the hold has halved",
    )
    amount: float = Param(0.7, low=0.0, high=1.0, neutral=None, help="0 no hold, 1 full hold", tunable=False)


@lru_cache(maxsize=64)
def _hue_map(warm_deg: float, cool_deg: float, pull: float, spread_deg: float, hold: Hold) -> HueMap:
    """Most of the work of preparing a split, kept by what enters it: the tints do not."""
    warm, cool = np.radians(warm_deg), np.radians(cool_deg)
    centre, half = np.radians(hold.hue), np.radians(hold.width)
    spread = np.radians(spread_deg)
    arc_up = cool - warm  # from the warm pole up to the cool one; the bounds keep it positive
    arc_down = TURN - arc_up

    def velocity(hue: Array) -> Array:
        along = np.mod(hue - warm, TURN)
        rising = along < arc_up
        arc = np.where(rising, arc_up, arc_down)
        t = np.where(rising, along, along - arc_up) / arc
        # Distance to the nearer pole; inside the spread the pull fades in from zero.
        distance = np.minimum(t, 1.0 - t) * arc
        near = distance**2 / (distance**2 + spread**2 + 1e-12)
        field = -np.sin(TURN * t) * arc / TURN
        free = 1.0 - hold.amount * bump(hue, centre, half)
        return 1.5 * pull * field * near * free

    return HueMap(velocity)


class Split(Step):
    """Pulls hues toward a warm and a cool pole, and tints shadows cool and highlights warm.

    The pull follows a flow on the hue circle (see ``colour/spaces/hue_flow.py``): strictly
    increasing for every allowed parameter, so hues gather but never fold or reverse. It fades out on
    neutrals with saturation. The tints are separate, smooth in stops, and leave the deepest blacks and the
    brightest whites neutral.
    """

    takes: ClassVar[Domain] = "opponent"
    gives: ClassVar[Domain] = "opponent"
    summary: ClassVar[str] = "warm/cool: hues gather at two poles, shadows and highlights take a slight tint"

    kind: Literal["split"] = "split"
    warm: float = Param(
        60.0, low=15.0, high=110.0, neutral=None, unit="deg", soft=(40.0, 80.0), help="Oklab hue of the warm pole"
    )
    cool: float = Param(
        225.0, low=160.0, high=290.0, neutral=None, unit="deg", soft=(200.0, 250.0), help="Oklab hue of the cool pole"
    )
    pull: float = Param(
        0.0, low=0.0, high=1.0, neutral=0.0, soft=(0.0, 0.6), help="how strongly hues gather at the nearer pole"
    )
    spread: float = Param(
        15.0,
        low=0.0,
        high=45.0,
        neutral=None,
        unit="deg",
        tunable=False,
        help="hues this near a pole feel little of the pull, so that variety stays",
    )
    cool_shadows: float = Param(
        0.0, low=0.0, high=0.1, neutral=0.0, soft=(0.0, 0.04), help="cool tint of shadows, as saturation"
    )
    warm_highlights: float = Param(
        0.0, low=0.0, high=0.1, neutral=0.0, soft=(0.0, 0.04), help="warm tint of highlights, as saturation"
    )
    balance: float = Param(
        0.0,
        low=-4.0,
        high=4.0,
        neutral=None,
        unit="stops",
        soft=(-2.0, 2.0),
        help="where the tints meet, from middle grey",
    )
    width: float = Param(
        2.0,
        low=0.5,
        high=5.0,
        neutral=None,
        unit="stops",
        soft=(1.0, 3.0),
        help="how gently one tint gives way to the other",
    )
    neutral_hold: float = Param(
        0.5, low=0.0, high=1.0, neutral=None, help="how far neutral parts stay out of the tints: 1 wholly"
    )
    hold: Hold = Field(default_factory=Hold, description="hues to leave alone: skin")

    def hue_map(self) -> HueMap:
        """The pull as a map of the hue circle."""
        return _hue_map(self.warm, self.cool, self.pull, self.spread, self.hold)

    def prepare(self, context: Context) -> Op:
        warm, cool = np.radians(self.warm), np.radians(self.cool)
        warm_axis = np.array([np.cos(warm), np.sin(warm)])
        cool_axis = np.array([np.cos(cool), np.sin(cool)])
        centre, half = np.radians(self.hold.hue), np.radians(self.hold.width)
        gathered = self.hue_map() if self.pull else None

        def apply(x: Array) -> Array:
            hue, saturation = hue_and_saturation(x)
            fade = colour_fade(saturation)
            ratios = x[..., 1:]
            if gathered is not None:
                ratios = rotate(ratios, fade * gathered.displacement(hue))
            if self.cool_shadows or self.warm_highlights:
                stops = stops_from_grey(x[..., 0])
                side = np.tanh((stops - self.balance) / self.width)
                # Deep black (from 5 to 9 stops under grey) and bright white (from 2.5 to 5.5 over) stay neutral.
                # Both tints need both ends: with a wide transition each reaches the other's.
                ends = smoothstep((stops + 9.0) / 4.0) * smoothstep((5.5 - stops) / 3.0)
                held = 1.0 - self.hold.amount * bump(hue, centre, half) * fade
                held = held * (1.0 - self.neutral_hold * (1.0 - fade))
                shadow = self.cool_shadows * 0.5 * (1.0 - side) * ends * held
                light = self.warm_highlights * 0.5 * (1.0 + side) * ends * held
                ratios = ratios + shadow[..., None] * cool_axis + light[..., None] * warm_axis
            return np.concatenate([x[..., :1], ratios], axis=-1)

        return Op("split", apply)

    def in_words(self) -> str:
        parts = []
        if self.pull:
            text = f"gathers hues at {self.warm:g} deg (warm) and {self.cool:g} deg (cool), pull {self.pull:g}"
            if self.hold.amount:
                text += f", holding {self.hold.amount * 100:.0f} % of hues round {self.hold.hue:g} deg (skin)"
            parts.append(text)
        if self.cool_shadows:
            parts.append(f"cools shadows by {self.cool_shadows:g}")
        if self.warm_highlights:
            parts.append(f"warms highlights by {self.warm_highlights:g}")
        return "; ".join(parts) or "splits nothing"
