"""LUTs and looks that a check should let pass: gentle grades, other renderings, conversions, our own looks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from check_faults import LOG, Case, Function, _bump, _each, _rise, _skies, over_plain
from planted_luts import VIDEO, on_hues, on_tone
from rendering_methods import aces2, step

from lookwright.arrays import Array
from lookwright.assess.restraint.subject import Subject, foreign, subject_of_look
from lookwright.colour.spaces.oklab import light_to_oklab, oklab_to_light
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.read import parse_look, read_look

LOOKS = Path(__file__).parents[2] / "looks"
STRENGTHS = (0.25, 0.5, 0.75, 1.0)


PLAIN = """
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "exposure"
stops = %.3f
[[step]]
kind = "saturation"
amount = %.3f
[[step]]
kind = "render"
"""
"""The plainest look: exposure and saturation before the plain rendering."""


def _saturated(factor: float) -> Function:
    return on_hues(lambda light, chroma, hue: (light, chroma * factor, hue))


def _soft(slope: float, pivot: float) -> Function:
    """A gentle S on level, both ends kept."""

    def curve(x: Array) -> Array:
        return np.where(
            x < pivot,
            pivot * (x / pivot) ** slope,
            1.0 - (1.0 - pivot) * np.maximum((1.0 - x) / (1.0 - pivot), 0.0) ** slope,
        )

    return on_tone(curve)


def _balanced(share: float) -> Function:
    """Red light up and blue down by a share, or the other way."""
    gains = np.array([1.0 + share, 1.0, 1.0 - share])
    return lambda signal: np.clip(VIDEO.encode(VIDEO.decode(signal) * gains), 0.0, 1.0)


def _offset(size: float) -> Function:
    """A little blue added to the signal, and half as much red taken away; white stays."""
    return _each(lambda x: x + size * (1.0 - x) * np.array([-0.5, 0.0, 1.0]))


def _split(cool: float, warm: float) -> Function:
    """Shadows a little cool and lights a little warm, over the whole scale; black and white themselves stay."""

    def apply(signal: Array) -> Array:
        lab = light_to_oklab(VIDEO.to_light(signal))
        light = np.clip(lab[..., 0], 0.0, 1.0)
        ends = np.sin(np.pi * light)
        tint = ends * (warm * _rise(light, 0.3, 0.6) - cool * (1.0 - _rise(light, 0.1, 0.6)))
        moved = lab + tint[..., None] * np.array([0.0, 0.3, 1.0])
        return np.clip(VIDEO.from_light(oklab_to_light(moved)), 0.0, 1.0)

    return apply


def _bands(sky: float, leaves: float, quiet: float) -> Function:
    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        green = _bump(hue, 135.0, 34.0)
        return light, chroma * (1.0 + (quiet - 1.0) * green), hue + leaves * green + sky * _bump(hue, 258.0, 34.0)

    return on_hues(change)


def _faded(level: float, white: float) -> Function:
    return _each(lambda x: level + (white - level) * x)


def _denser(amount: float) -> Function:
    """More colour goes darker, as dyes do."""

    def change(light: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
        s = chroma / np.maximum(light, 1e-3)
        return light * (1.0 - amount * _rise(s, 0.05, 0.4)), chroma, hue

    return on_hues(change)


def _grades(r: np.random.Generator) -> Iterator[tuple[str, Function]]:
    u = r.uniform
    yield "nothing", lambda x: x
    for factor in (1.08, 1.15, u(0.75, 0.95), u(1.03, 1.12)):
        yield f"saturation x {factor:.2f}", _saturated(factor)
    for slope in (u(1.08, 1.16), u(1.16, 1.25), u(0.86, 0.94)):
        yield f"contrast x {slope:.2f}, soft ends", _soft(slope, u(0.38, 0.5))
    for gamma in (u(0.92, 0.97), u(1.03, 1.08)):
        yield f"gamma {gamma:.2f}", _each(lambda x, g=gamma: x**g)
    yield "shadows cool, lights warm", _split(u(0.008, 0.014), u(0.006, 0.01))
    yield f"{1e2 * (w := u(0.02, 0.05)):.0f} % warmer", _balanced(w)
    yield f"{1e2 * (w := u(0.02, 0.05)):.0f} % cooler", _balanced(-w)
    yield "a hair of blue in the blacks", _offset(u(0.003, 0.007))
    yield "blacks a little lifted", _faded(u(0.02, 0.035), u(0.97, 1.0))
    turn = u(5.0, 9.0)
    yield f"sky {-turn:.0f}, leaves {-turn:.0f} deg, greens quieter", _bands(-turn, -turn, u(0.75, 0.9))
    yield f"sky {turn:.0f} deg, more colour", _skies(turn, u(1.05, 1.15))
    yield "colour with density", _denser(u(0.06, 0.12))
    soft, pale = _soft(u(1.1, 1.2), 0.42), _saturated(u(0.65, 0.8))
    yield "pale and firm", lambda x: pale(soft(x))
    firm, split, more = _soft(u(1.08, 1.15), 0.42), _split(0.008, 0.006), _saturated(u(1.04, 1.1))
    yield "a film grade", lambda x: more(split(firm(x)))


def _renderings() -> Iterator[tuple[str, Function]]:
    """Of ACEScct to BT.1886."""

    def shown(method: Function) -> Function:
        def apply(signal: Array) -> Array:
            return np.clip(VIDEO.from_light(method(LOG.to_scene(signal))), 0.0, 1.0)

        return apply

    yield "ACES 2 (OpenColorIO), 100 cd/m2", shown(aces2())
    for amount in (0.3, 0.6, 1.0):
        yield f"print, amount {amount:g}", shown(step("print", amount=amount))
    yield "render, slope 1.3", shown(step("render", slope=1.3))
    yield "render, slope 1.05", shown(step("render", slope=1.05))
    yield "render, white at 6 stops", shown(step("render", white=6.0))
    yield "render, grey at 41 %", shown(step("render", grey=41.0))


def harmless(seed: int) -> list[tuple[str, Subject]]:
    """Name and subject; the places and amounts of the grades from ``seed``."""
    r = np.random.default_rng(1000 + seed)
    cases = [Case(name, "", f, VIDEO, frozenset()) for name, f in _grades(r)]
    cases += [
        Case(f"{name}, over log", "", over_plain(f), LOG, frozenset())
        for i, (name, f) in enumerate(_grades(r))
        if i % 3 == 1
    ]
    cases += [Case(name, "", f, LOG, frozenset()) for name, f in _renderings()]
    found = [(case.kind, case.subject()) for case in cases]
    for path in sorted(LOOKS.glob("*.toml")):
        look = read_look(path)
        for strength in STRENGTHS:
            share = look.model_copy(update={"strength": strength}).with_folder(look.folder)
            # As a file of it would be: no recipe, so that no time goes into advice.
            found.append((f"{path.stem} at {strength:g}", replace(subject_of_look(share), look=None)))
    for stops, amount in ((0.5, 0.8), (-0.4, 1.1), (r.uniform(-0.3, 0.3), r.uniform(0.7, 1.15))):
        look = parse_look(PLAIN % (stops, amount))
        found.append((f"{stops:+.1f} stops, saturation x {amount:.2f}", replace(subject_of_look(look), look=None)))
    for a, b in (("sRGB", "BT.1886"), ("BT.1886", "P3-D65 2.6"), ("S-Log3", "BT.1886"), ("S-Log3", "BT.2100 PQ")):
        source, output = Signal.named(a), Signal.named(b)
        found.append((f"{a} to {b}", foreign("", source, output, foreign("", source, output, lambda x: x).plain)))
    return found
