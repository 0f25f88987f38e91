"""Up to eight bands of hue, each turned, coloured and lit by itself."""

from __future__ import annotations

from functools import lru_cache
from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from lookwright.arrays import Array
from lookwright.colour.hue_words import hue_word
from lookwright.colour.spaces.hue_flow import HueMap, bump, colour_fade, rotate
from lookwright.colour.spaces.oklab import hue_and_saturation

from . import holds
from .base import Context, Domain, Op, Step, in_stops
from .params import Declared, Param
from .unfolded import FADES, HUES, around, share_without_fold


class Band(Declared):
    """One band of hues."""

    centre: float = Param(
        0.0,
        low=0.0,
        high=360.0,
        neutral=None,
        unit="deg",
        tunable=False,
        help="Oklab hue at the middle",
        main=True,
        paint="hue",
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
        main=True,
    )
    saturation: float = Param(
        1.0,
        low=0.0,
        high=2.0,
        neutral=1.0,
        soft=(0.5, 1.5),
        help="factor on saturation; under 0.2 somewhat more is left than it says, so that colours keep their order",
        main=True,
    )
    light: float = Param(
        0.0, low=-2.0, high=2.0, neutral=0.0, unit="stops", soft=(-0.5, 0.5), help="brighter or darker", main=True
    )


class Hues(Step):
    """Bands of hue, periodic and smooth; colours never fold, whatever the bands.

    Seen in hue and log saturation: hues follow a map that strictly increases, saturations a gain by hue, and both fade
    out on neutrals. Where the gain is so strong that saturations or hues would change places, all gains are eased by
    one factor (see ``unfolded.py``).
    """

    takes: ClassVar[Domain] = "opponent"
    gives: ClassVar[Domain] = "opponent"
    summary: ClassVar[str] = "bands of hue, each with its own turn, saturation and light"

    kind: Literal["hues"] = "hues"
    band: tuple[Band, ...] = Field(default=(), max_length=8, description="up to eight bands")
    hold_skin: float = holds.hold("skin")
    hold_sky: float = holds.hold("sky")
    hold_leaves: float = holds.hold("leaves")

    def prepare(self, context: Context) -> Op:
        held = holds.bells(self)
        turned, eased = _turned_and_eased(self.band, held)

        def apply(x: Array) -> Array:
            hue, saturation = hue_and_saturation(x)
            fade = colour_fade(saturation)
            log_gain, light = _gains(self.band, held, hue)
            ratios = x[..., 1:] * np.exp(eased * log_gain * fade)[..., None]
            if turned is not None:
                ratios = rotate(ratios, fade * turned.displacement(hue))
            # Light is a cube of Oklab lightness: s stops are a factor 2^(s/3).
            lightness = x[..., :1] * np.exp2(light * fade / 3.0)[..., None]
            return np.concatenate([lightness, ratios], axis=-1)

        return Op("hues", apply)

    def in_words(self) -> str:
        parts = []
        for b in self.band:
            acts = []
            if b.turn:
                acts.append(f"turned {b.turn:+g} degrees")
            if b.saturation != 1:
                acts.append(f"colour at {b.saturation * 100:.0f} %")
            if b.light:
                acts.append(f"light {in_stops(b.light, '+')}")
            if acts:
                about = f"{hue_word(b.centre)} ({b.centre:g} degrees, width {b.width:g})"
                parts.append(f"hues round {about}: {', '.join(acts)}")
        if not parts:
            return "leaves every band of hue as it is"
        eased = _turned_and_eased(self.band, holds.bells(self))[1]
        if eased < 1.0:
            parts.append(f"gains of colour eased to {eased * 100:.0f} %: more would fold colours")
        return "; ".join(parts) + holds.in_words(self)


def _gains(bands: tuple[Band, ...], held: holds.Bells, hue: Array) -> tuple[Array, Array]:
    """Log of the gain on saturation, and light in stops, of hues (radians) far from neutral."""
    log_gain, light = np.zeros_like(hue), np.zeros_like(hue)
    for b in bands:
        weight = bump(hue, np.radians(b.centre), np.radians(b.width))
        log_gain = log_gain + weight * np.log(max(b.saturation, 1e-3))  # a factor of 0 is allowed
        light = light + weight * b.light
    free = holds.left_free(hue, held)
    return log_gain * free, light * free


@lru_cache(maxsize=128)
def _turned(turns: tuple[tuple[float, float, float], ...], held: holds.Bells) -> HueMap | None:
    """The map of hues of these (centre, width, turn) in degrees: kept by itself, since gains leave it as it is."""

    def velocity(hue: Array) -> Array:
        each = (np.radians(turn) * bump(hue, np.radians(centre), np.radians(width)) for centre, width, turn in turns)
        return sum(each, np.zeros_like(hue)) * holds.left_free(hue, held)

    return HueMap(velocity) if turns else None


@lru_cache(maxsize=64)
def _turned_and_eased(bands: tuple[Band, ...], held: holds.Bells) -> tuple[HueMap | None, float]:
    """The turn of hues, and the share of the gains on saturation that leaves no fold behind it.

    With u = log saturation and the fade F(u), F' = 2 F (1 - F): u goes to u + F G(hue), hue to hue + F D(hue), whose
    Jacobian determinant is (1 + G F') (1 + F dD) - F F' dG D.
    """

    turned = _turned(tuple((b.centre, b.width, b.turn) for b in bands if b.turn), held)
    log_gain, _ = _gains(bands, held, HUES)
    if not log_gain.any():
        return turned, 1.0
    turn = turned.displacement(HUES) if turned else np.zeros_like(HUES)
    rise = 2.0 * FADES * (1.0 - FADES)
    plain = 1.0 + FADES * around(turn)
    added = log_gain * rise * plain - FADES * rise * around(log_gain) * turn
    return turned, share_without_fold(plain, added)
