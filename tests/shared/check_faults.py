"""LUTs with one fault each, at jittered places and amounts: what ``check`` must fail, and for which reasons.

Every fault is a function on the signal of a BT.1886 display. One in two is also laid over the plain rendering of
ACEScct, as a bought LUT for log footage would have it. All go through a lattice of 33 points, as the files do.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from planted_luts import VIDEO, away, on_hues, on_tone

from lookwright.arrays import Array
from lookwright.assess.restraint.subject import Subject, foreign
from lookwright.colour.spaces.oklab import light_to_oklab, oklab_to_light
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.lattices.interpolate import tetrahedral
from lookwright.lut.lattices.lattice import sample

Function = Callable[[Array], Array]
LOG = Signal.named("ACEScct")
SIZE = 33
EACH = 3
"""LUTs of each kind of fault."""


@dataclass(frozen=True)
class Case:
    """One LUT and what it should be failed for."""

    kind: str
    what: str
    """The jittered place and amount in words."""
    function: Function
    """From the source's code values to BT.1886."""
    source: Signal
    reasons: frozenset[str]
    """Measures of which one at least must fail; empty for a harmless one."""

    def subject(self) -> Subject:
        """As a file of 33 points would be checked."""
        lattice = sample(self.function, SIZE)
        return foreign(self.kind, self.source, VIDEO, lambda x: tetrahedral(lattice, x))


def over_plain(fault: Function) -> Function:
    """A fault of the display picture laid over the plain rendering of ACEScct."""
    plain = foreign("plain", LOG, VIDEO, lambda x: x).plain
    return lambda x: fault(plain(x))


def _bump(hue: Array, centre: float, width: float) -> Array:
    return np.exp(-((away(hue, centre) / width) ** 2))


def _rise(x: Array, start: float, width: float) -> Array:
    """0 below ``start``, 1 from ``start + width`` on."""
    t = np.clip((x - start) / width, 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def _turned(centre: float, width: float, turn: float, start: float = 0.0) -> Function:
    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        near = _bump(hue, centre, width)
        if start:
            near = near * _rise(chroma / np.maximum(light, 1e-3), start, 0.06)
        return light, chroma, hue + turn * near

    return on_hues(change)


def _folded(centre: float, start: float) -> Function:
    """Hues run backwards, only above a saturation."""

    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        off = away(hue, centre)
        near = _bump(hue, centre, 32.0) * _rise(chroma / np.maximum(light, 1e-3), start, 0.05)
        return light, chroma, hue - 18.0 * np.sin(np.radians(6.0 * off)) * near

    return on_hues(change)


def _colour(centre: float, width: float, factor: float, start: float = 0.0) -> Function:
    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        near = _bump(hue, centre, width)
        if start:
            near = near * _rise(chroma / np.maximum(light, 1e-3), start, 0.03)
        return light, chroma * (1.0 + (factor - 1.0) * near), hue

    return on_hues(change)


def _light(centre: float, width: float, factor: float) -> Function:
    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        near = _bump(hue, centre, width) * _rise(chroma / np.maximum(light, 1e-3), 0.1, 0.1)
        scale = 1.0 + (factor - 1.0) * near
        return light * scale, chroma * scale, hue

    return on_hues(change)


def _skin_between(low: float, high: float, turn: float = 0.0, factor: float = 1.0) -> Function:
    """Skin hues between two Oklab lightnesses turned or recoloured."""

    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        where = _rise(light, low - 0.04, 0.08) * (1.0 - _rise(light, high - 0.04, 0.08))
        near = where * _bump(hue, 46.0, 40.0)
        return light, chroma * (1.0 + (factor - 1.0) * near), hue + turn * near

    return on_hues(change)


def _all_but_skin(turn: float) -> Function:
    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        return light, chroma, hue + turn * (1.0 - np.exp(-((away(hue, 48.0) / 38.0) ** 4)))

    return on_hues(change)


def _tinted(a: float, b: float, low: float = 0.0, high: float = 1.0) -> Function:
    """Oklab a, b added between two lightnesses."""

    def apply(signal: Array) -> Array:
        lab = light_to_oklab(VIDEO.to_light(signal))
        where = _rise(lab[..., 0], low, 0.1) * (1.0 - _rise(lab[..., 0], high - 0.1, 0.1))
        moved = lab + np.array([0.0, a, b]) * where[..., None]
        return np.clip(VIDEO.from_light(oklab_to_light(moved)), 0.0, 1.0)

    return apply


def _waves(amount: float, period: float) -> Function:
    """A tint that comes and goes along the scale of greys."""

    def apply(signal: Array) -> Array:
        lab = light_to_oklab(VIDEO.to_light(signal))
        wave = amount * np.sin(2.0 * np.pi * lab[..., 0] / period)
        moved = lab + wave[..., None] * np.array([0.0, 0.6, 0.8])
        return np.clip(VIDEO.from_light(oklab_to_light(moved)), 0.0, 1.0)

    return apply


def _each(curve: Function) -> Function:
    """One curve on each channel of signal."""
    return lambda signal: np.clip(curve(np.asarray(signal, np.float64)), 0.0, 1.0)


def _posterised(levels: int) -> Function:
    return _each(lambda x: np.round(x * (levels - 1)) / (levels - 1))


def _solarised(at: float, depth: float) -> Function:
    return on_tone(lambda x: np.maximum(x - depth * np.exp(-(((x - at) / 0.06) ** 2)), 0.0))


def _steep(slope: float, pivot: float) -> Function:
    def curve(x: Array) -> Array:
        raw = 1.0 / (1.0 + np.exp(-4.0 * slope * (x - pivot)))
        low, high = (1.0 / (1.0 + np.exp(-4.0 * slope * (e - pivot))) for e in (0.0, 1.0))
        return (raw - low) / (high - low)

    return on_tone(curve)


def _channels(grey: float, slope: float) -> Function:
    """A rendering of log footage channel by channel, wide primaries read as the display's: lights change hue."""

    def apply(signal: Array) -> Array:
        light = np.maximum(LOG.to_scene(signal) @ matrix("ACEScg", "BT.709").T, 0.0)
        shaped = np.clip((grey * (np.maximum(light, 1e-6) / 0.18) ** slope), 0.0, None)
        return np.asarray(np.clip(1.0 - np.exp(-shaped), 0.0, 1.0) ** (1 / 2.4))

    return apply


def _dark_lights(hue: float, least: float) -> Function:
    """Saturated lights of a hue go dark, as where a matrix gives less than nothing."""

    def change(light: Array, chroma: Array, at: Array) -> tuple[Array, Array, Array]:
        near = _bump(at, hue, 30.0) * _rise(chroma / np.maximum(light, 1e-3), 0.22, 0.1)
        scale = 1.0 - (1.0 - least) * near
        return light * scale, chroma * scale, at

    return on_hues(change)


def _skies(turn: float, factor: float) -> Function:
    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        near = _bump(hue, 258.0, 30.0)
        return light, chroma * (1.0 + (factor - 1.0) * near), hue + turn * near

    return on_hues(change)


def _kinds(r: np.random.Generator) -> Iterator[tuple[str, str, Function, set[str]]]:
    """One of each kind: kind, words, function, reasons."""
    u = r.uniform
    side = 1.0 if u() > 0.5 else -1.0
    turn, at = side * u(42.0, 62.0), u(254.0, 272.0)
    hues = {"hue_surfaces", "hue_lights", "hue_scene"}
    order = {"fold", "hue_order", "fold_strong"}
    yield ("saturated blue turned", f"{turn:+.0f} deg at {at:.0f}", _turned(at, u(26, 38), turn, 0.16), hues | order)
    turn, at = u(36.0, 48.0), u(254.0, 270.0)
    yield ("blue to purple", f"{turn:+.0f} deg at {at:.0f}", _turned(at, u(34, 46), turn), hues | {"sky_hue"})
    at, start = u(228.0, 264.0), u(0.15, 0.2)
    yield ("fold in strong blue", f"at {at:.0f}, above C/L {start:.2f}", _folded(at, start), order)
    factor, start = u(1.55, 1.9), u(0.14, 0.2)
    pushed = {"colour_pushed", "colour_step", "fold_strong", "flat_colours", "flat_gamut"}
    yield ("strong reds pushed", f"x {factor:.2f} above {start:.2f}", _colour(u(18, 32), 30.0, factor, start), pushed)
    turn = side * u(15.0, 22.0)
    even = {"skin_hue", "skin_even_hue", "skin_hue_mixed"}
    yield ("light skin turned", f"{turn:+.0f} deg", _skin_between(u(0.57, 0.59), 0.75, turn), even)
    turn = -side * u(15.0, 22.0)
    yield ("dark skin turned", f"{turn:+.0f} deg", _skin_between(0.2, u(0.46, 0.5), turn), even)
    turn = side * u(20.0, 28.0)
    yield ("highlights of skin turned", f"{turn:+.0f} deg", _skin_between(u(0.74, 0.78), 1.2, turn), even)
    factor = u(0.3, 0.45)
    pale = {"skin_colour", "skin_even_colour"}
    yield ("dark skin drained", f"x {factor:.2f}", _skin_between(0.2, u(0.5, 0.56), 0.0, factor), pale)
    turn = side * u(14.0, 20.0)
    yield ("all skin turned", f"{turn:+.0f} deg", _turned(46.0, 40.0, turn), {"skin_hue"})
    turn = side * u(30.0, 42.0)
    yield (
        "all hues but skin turned",
        f"{turn:+.0f} deg",
        _all_but_skin(turn),
        hues | {"sky_hue", "leaves_hue"} | order,
    )
    factor, at = u(0.0, 0.15), u(130.0, 150.0)
    lost = {"colour_lost", "leaves_colour"}
    yield ("greens to grey", f"x {factor:.2f} at {at:.0f}", _colour(at, u(30, 40), factor), lost)
    factor, at = u(0.35, 0.48), u(20.0, 32.0)
    dark = {"light_surfaces", "fold_strong", "light_lights"}
    yield ("reds darkened", f"x {factor:.2f} at {at:.0f}", _light(at, 28.0, factor), dark)
    lift = u(0.09, 0.14)
    yield ("blacks lifted", f"to {100 * lift:.0f} %", _each(lambda x, v=lift: v + (1.0 - v) * x), {"black_level"})
    at = u(0.84, 0.9)
    end = {"white_point", "tones_lost", "flat_colours", "flat_gamut"}
    yield ("whites clipped", f"at {100 * at:.0f} %", _each(lambda x, v=at: x / v), end)
    at = u(0.1, 0.18)
    crushed = {"black_point", "tones_lost"}
    yield ("blacks crushed", f"at {100 * at:.0f} %", _each(lambda x, v=at: (x - v) / (1.0 - v)), crushed)
    lift = u(0.14, 0.2)
    noisy = {"shadow_noise", "contrast", "grey_level"}
    yield (
        "shadows lifted",
        f"by {100 * lift:.0f} %",
        on_tone(lambda x, v=lift: x + v * (1.0 - np.exp(-x / 0.05)) * np.exp(-((x / 0.26) ** 2))),
        noisy,
    )
    turn, factor = -u(24.0, 36.0), u(1.0, 1.3)
    yield ("sky to cyan", f"{turn:+.0f} deg", _skies(turn, factor), {"sky_hue"})
    turn = u(24.0, 34.0)
    yield ("sky to violet", f"{turn:+.0f} deg", _skies(turn, 1.0), {"sky_hue"})
    turn = -u(26.0, 38.0)
    yield ("leaves to mustard", f"{turn:+.0f} deg", _turned(u(128, 142), u(32, 42), turn), {"leaves_hue"})
    angle, size = u(0.0, 2 * np.pi), u(0.026, 0.04)
    cast = {"grey_card_tint", "grey_tint"}
    tint = _tinted(size * np.cos(angle), size * np.sin(angle))
    yield ("greys tinted", f"{100 * size:.1f} toward {np.degrees(angle):.0f}", tint, cast)
    size, period = u(0.022, 0.03), u(0.3, 0.42)
    wavy = {"grey_swing", "grey_crossings", "grey_card_tint", "grey_tint"}
    yield ("tint that comes and goes", f"{100 * size:.1f} every {period:.2f}", _waves(size, period), wavy)
    levels = int(r.integers(9, 17))
    yield ("posterised", f"{levels} levels", _posterised(levels), {"banding_8", "banding_10"})
    at, depth = u(0.45, 0.8), u(0.1, 0.16)
    yield ("tones turned back", f"at {100 * at:.0f} %", _solarised(at, depth), {"tone_fall"})
    slope = u(2.3, 2.9)
    steep = {"contrast", "black_point", "white_point", "tones_lost"}
    yield ("harsh contrast", f"x {slope:.1f}", _steep(slope, u(0.36, 0.42)), steep)
    factor = u(1.75, 2.3)
    loud = {"skin_colour", "colour_pushed", "colour_gain", "flat_colours", "flat_gamut"}
    yield ("far too much colour", f"x {factor:.2f}", on_hues(lambda li, c, h, f=factor: (li, c * f, h)), loud)
    least, at = u(0.35, 0.5), (266.0, 28.0, 142.0)[int(r.integers(3))]
    yield ("strong lights go dark", f"x {least:.2f} at {at:.0f}", _dark_lights(at, least), dark)
    level = u(0.62, 0.72)
    yield ("dull white", f"{100 * level:.0f} %", _each(lambda x, v=level: v * x), {"white_level", "grey_level"})
    stops = side * u(1.2, 1.8)
    exposed = {"grey_level", "skin_level"}
    yield ("exposure off", f"{stops:+.1f} stops", _each(lambda x, s=stops: x * 2.0 ** (s / 2.4)), exposed)
    yield ("channel by channel", "", _channels(u(0.1, 0.12), u(1.0, 1.15)), hues | {"light_lights"})


def faults(seed: int, each: int = EACH) -> list[Case]:
    """``each`` of every kind, at places and amounts from ``seed``; every second one laid over log footage."""
    r = np.random.default_rng(seed)
    found = []
    for i in range(each):
        for j, (kind, words, function, reasons) in enumerate(_kinds(r)):
            if kind == "channel by channel":
                found.append(Case(kind, words, function, LOG, frozenset(reasons)))
            elif (i + j) % 2:
                found.append(Case(kind, words, over_plain(function), LOG, frozenset(reasons)))
            else:
                found.append(Case(kind, words, function, VIDEO, frozenset(reasons)))
    return found
