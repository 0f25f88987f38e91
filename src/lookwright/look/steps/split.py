"""The warm/cool split: hues gather at two poles, shadows cool and highlights warm a little."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from lookwright.arrays import Array
from lookwright.colour.hue_words import hue_word
from lookwright.colour.spaces.hue_flow import NEAR_NEUTRAL, TURN, HueMap, colour_fade, rotate
from lookwright.colour.spaces.oklab import hue_and_saturation, stops_from_grey

from . import holds
from .base import Context, Domain, Op, Step
from .params import Declared, Param
from .tints import between_the_ends, grey_spared, spare_grey
from .unfolded import FADES, HUES, around, share_without_fold


class Hold(Declared):
    """Hues that are left where they are, and out of the tints: skin, unless it says otherwise."""

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
        paint="hue",
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


@dataclass(frozen=True)
class _Shape:
    """What shapes a split, apart from how strong its tints are and where in the scale they lie."""

    warm: float
    cool: float
    """Poles, degrees."""
    pull: float
    spread: float
    hold: Hold
    held: holds.Bells
    neutral_hold: float

    def free(self, hue: Array, share: Array | float = 1.0) -> Array:
        """What the holds leave of an effect."""
        own = (self.hold.amount, float(np.radians(self.hold.hue)), float(np.radians(self.hold.width)))
        return holds.left_free(hue, (own, *self.held), share)

    def tinted(self, hue: Array, fade: Array) -> Array:
        """The share of a tint that colours take; ``fade`` is 0 on neutrals, 1 far from them."""
        return self.free(hue, fade) * (1.0 - self.neutral_hold * (1.0 - fade))


@lru_cache(maxsize=64)
def _hue_map(shape: _Shape) -> HueMap:
    """Most of the work of preparing a split, kept by what enters it: the tints do not."""
    warm, cool = np.radians(shape.warm), np.radians(shape.cool)
    spread = np.radians(shape.spread)
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
        return 1.5 * shape.pull * field * near * shape.free(hue)

    return HueMap(velocity)


def _turning(shape: _Shape) -> _Shape:
    """Without what tints alone are shaped by."""
    return replace(shape, neutral_hold=0.0)


@lru_cache(maxsize=64)
def _most_tint(shape: _Shape) -> tuple[float, float]:
    """The strongest tints toward the warm and the cool pole, as saturation, that fold no colour; at most 1.

    Colours r = (s, hue) are turned to (s, hue + F D) and then get T m(s, hue), with the fade F(s), the turn D and
    the share m of the tint T. The Jacobian determinant is that of the turn, 1 + F dD, times 1 + T . grad m, the
    gradient by turned colours; it is linear in T, so what holds for the tint of either pole holds for their mixtures.
    """
    turn = _hue_map(_turning(shape)).displacement(HUES) if shape.pull else np.zeros_like(HUES)
    plain = 1.0 + FADES * around(turn)
    saturation = NEAR_NEUTRAL * np.sqrt(FADES / (1.0 - FADES))
    rise = 2.0 * FADES * (1.0 - FADES) / saturation  # dF / ds
    h = 1e-4
    by_fade = (shape.tinted(HUES, FADES + h) - shape.tinted(HUES, FADES - h)) / (2.0 * h)
    by_hue = around(shape.tinted(HUES, FADES)) / plain
    outward = (by_fade - by_hue * turn) * rise
    along = by_hue / saturation

    def most(pole: float) -> float:
        off = HUES + FADES * turn - np.radians(pole)
        return share_without_fold(plain, plain * (outward * np.cos(off) - along * np.sin(off)))

    return most(shape.warm), most(shape.cool)


class Split(Step):
    """Pulls hues toward a warm and a cool pole, and tints shadows cool and highlights warm.

    The pull follows a flow on the hue circle (see ``colour/spaces/hue_flow.py``): strictly
    increasing for every allowed parameter, so hues gather but never fold or reverse. It fades out on
    neutrals with saturation. The tints are separate, smooth in stops, and leave the deepest blacks and the
    brightest whites neutral. A tint so strong that colours beside a hold would change places is eased to what they
    can take (see ``unfolded.py``), so that the whole step folds for no value of its parameters.
    """

    takes: ClassVar[Domain] = "opponent"
    gives: ClassVar[Domain] = "opponent"
    summary: ClassVar[str] = "warm/cool: hues gather at two poles, shadows and highlights take a slight tint"

    kind: Literal["split"] = "split"
    warm: float = Param(
        60.0,
        low=15.0,
        high=110.0,
        neutral=None,
        unit="deg",
        soft=(40.0, 80.0),
        help="Oklab hue of the warm pole",
        main=True,
        paint="hue",
    )
    cool: float = Param(
        225.0,
        low=160.0,
        high=290.0,
        neutral=None,
        unit="deg",
        soft=(200.0, 250.0),
        help="Oklab hue of the cool pole",
        main=True,
        paint="hue",
    )
    pull: float = Param(
        0.0,
        low=0.0,
        high=1.0,
        neutral=0.0,
        soft=(0.0, 0.6),
        help="how strongly hues gather at the nearer pole",
        main=True,
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
        0.0, low=0.0, high=0.1, neutral=0.0, soft=(0.0, 0.04), help="cool tint of shadows, as saturation", main=True
    )
    warm_highlights: float = Param(
        0.0, low=0.0, high=0.1, neutral=0.0, soft=(0.0, 0.04), help="warm tint of highlights, as saturation", main=True
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
    spare_grey: float = spare_grey()
    hold: Hold = Field(
        default_factory=Hold, description="one range of your own to leave alone; as it stands a narrow one at skin"
    )
    hold_skin: float = holds.hold("skin")
    hold_sky: float = holds.hold("sky")
    hold_leaves: float = holds.hold("leaves")

    def _shape(self) -> _Shape:
        held = holds.bells(self)
        return _Shape(self.warm, self.cool, self.pull, self.spread, self.hold, held, self.neutral_hold)

    def hue_map(self) -> HueMap:
        """The pull as a map of the hue circle."""
        return _hue_map(_turning(self._shape()))

    def _tints(self) -> tuple[float, float]:
        """The tints of shadows and highlights as they are made: those asked for, or what colours can take."""
        if not (self.cool_shadows or self.warm_highlights):
            return 0.0, 0.0
        most_warm, most_cool = _most_tint(self._shape())
        return min(self.cool_shadows, most_cool), min(self.warm_highlights, most_warm)

    def prepare(self, context: Context) -> Op:
        warm, cool = np.radians(self.warm), np.radians(self.cool)
        warm_axis = np.array([np.cos(warm), np.sin(warm)])
        cool_axis = np.array([np.cos(cool), np.sin(cool)])
        shape = self._shape()
        gathered = self.hue_map() if self.pull else None
        cooler, warmer = self._tints()

        def apply(x: Array) -> Array:
            hue, saturation = hue_and_saturation(x)
            fade = colour_fade(saturation)
            ratios = x[..., 1:]
            if gathered is not None:
                ratios = rotate(ratios, fade * gathered.displacement(hue))
            if cooler or warmer:
                stops = stops_from_grey(x[..., 0])
                side = np.tanh((stops - self.balance) / self.width)
                # Both tints need both ends: with a wide transition each reaches the other's.
                taken = between_the_ends(stops) * grey_spared(stops, self.spare_grey) * shape.tinted(hue, fade)
                shadow = cooler * 0.5 * (1.0 - side) * taken
                light = warmer * 0.5 * (1.0 + side) * taken
                ratios = ratios + shadow[..., None] * cool_axis + light[..., None] * warm_axis
            return np.concatenate([x[..., :1], ratios], axis=-1)

        return Op("split", apply)

    def in_words(self) -> str:
        parts = []
        if self.pull:
            warm, cool = (f"{hue_word(pole)} ({pole:g} degrees)" for pole in (self.warm, self.cool))
            text = f"gathers hues at {warm} and {cool}, pull {self.pull:g}"
            if self.hold.amount:
                held = f"{hue_word(self.hold.hue)} ({self.hold.hue:g} degrees, skin)"
                text += f", holding {self.hold.amount * 100:.0f} % of hues round {held}"
            parts.append(text)
        asked = (self.cool_shadows, self.warm_highlights)
        for does, wanted, made in zip(("cools shadows", "warms highlights"), asked, self._tints(), strict=True):
            if wanted:
                eased = f" (eased to {made:.2g}: more would fold colours)" if made < wanted else ""
                parts.append(f"{does} by {wanted:g}{eased}")
        if self.spare_grey and (self.cool_shadows or self.warm_highlights):
            parts.append(f"spares the grey card {self.spare_grey * 100:.0f} % of the tint")
        return "; ".join(parts) + holds.in_words(self) if parts else "splits nothing"
