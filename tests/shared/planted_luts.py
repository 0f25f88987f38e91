"""Four LUTs with one fault each, BT.1886 to BT.1886, and the functions behind them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent
from lookwright.colour.spaces.oklab import light_to_oklab, oklab_to_light
from lookwright.colour.spaces.signal import Signal

Function = Callable[[Array], Array]
VIDEO = Signal.named("BT.1886")


def on_hues(change: Callable[[Array, Array, Array], tuple[Array, Array, Array]], clip: bool = True) -> Function:
    """A function of signal from one of Oklab lightness, chroma and hue in degrees."""

    def apply(signal: Array) -> Array:
        lab = light_to_oklab(VIDEO.to_light(signal))
        hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1]))
        light, chroma, hue = change(lab[..., 0], np.hypot(lab[..., 1], lab[..., 2]), hue)
        angle = np.radians(hue)
        out = VIDEO.from_light(oklab_to_light(np.stack([light, chroma * np.cos(angle), chroma * np.sin(angle)], -1)))
        return np.clip(out, 0.0, 1.0) if clip else out

    return apply


def on_tone(curve: Function) -> Function:
    """One gain for all three channels, from a curve on the signal level 0..1."""

    def apply(signal: Array) -> Array:
        light = VIDEO.to_light(signal)
        level = signal_percent(light) / 100.0
        gain = (curve(level) / np.maximum(level, 1e-4)) ** 2.4
        return np.clip(VIDEO.from_light(light * gain[..., None]), 0.0, 1.0)

    return apply


def away(hue: Array, centre: float) -> Array:
    """Degrees from ``centre``, -180..180."""
    return (hue - centre + 180.0) % 360.0 - 180.0


def orange_skin(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
    """Hues about skin turned by up to 16 degrees toward yellow, with a little more colour."""
    near = np.exp(-((away(hue, 48.0) / 40.0) ** 2))
    return light, chroma * (1.0 + 0.1 * near), hue + 16.0 * near


FOLD_AT = 230.0


def folded_blue(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
    """Hues about 230 degrees run backwards, at 0.68 of their pace; greys are left alone."""
    off = away(hue, FOLD_AT)
    bump = np.exp(-((off / 35.0) ** 2)) * np.minimum(1.0, chroma / 0.03)
    return light, chroma, hue - 16.0 * np.sin(np.radians(6.0 * off)) * bump


CRUSH, CLIP = 0.19, 0.72
"""Of signal: 1.7 stops under and 2.5 over middle grey, plainly rendered; white paper lies at 2.47."""


def crushed_and_clipped(level: Array) -> Array:
    """Straight between black at 19 % and white at 72 % of signal."""
    return np.clip((level - CRUSH) / (CLIP - CRUSH), 0.0, 1.0)


def lifted_shadows(level: Array) -> Array:
    """Out of black at four times the slope, back to the identity by the mid tones (1 % is left at a level of 43 %)."""
    return level + 0.16 * (1.0 - np.exp(-level / 0.05)) * np.exp(-((level / 0.26) ** 2))


PLANTED: dict[str, Function] = {
    "orange skin": on_hues(orange_skin),
    "folded hue": on_hues(folded_blue),
    "crushed and clipped": on_tone(crushed_and_clipped),
    "lifted shadows": on_tone(lifted_shadows),
}
