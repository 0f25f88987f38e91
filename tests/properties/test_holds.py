"""Holds on skin, sky and leaves: less of the step on them, all of it elsewhere, and no seam between."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from recipe_strategies import context

from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.look.steps import registry
from lookwright.look.steps.holds import RANGES
from lookwright.look.steps.params import info_of

STRONG: dict[str, dict[str, Any]] = {
    "saturation": {"amount": 1.5, "density": 0.5},
    "hues": {"band": [{"centre": c, "width": 60.0, "turn": 15.0, "saturation": 0.6, "light": 0.5} for c in (60, 200)]},
    "split": {"pull": 0.5, "cool_shadows": 0.02, "warm_highlights": 0.02, "hold": {"amount": 0.0}},
}
"""A step of each kind that moves every colour."""

each = pytest.mark.parametrize("kind", STRONG)


def moved(kind: str, hue: float | np.ndarray, saturation: float | np.ndarray = 0.15, **holds: float) -> np.ndarray:
    """How far the step moves colours at grey's level, in (L, a/L, b/L)."""
    angle, saturation = np.broadcast_arrays(np.radians(np.atleast_1d(hue)), saturation)
    x = np.stack([np.full_like(angle, 0.565), saturation * np.cos(angle), saturation * np.sin(angle)], axis=-1)
    out = registry()[kind](**STRONG[kind], **holds).prepare(context())(x)
    return np.asarray(np.linalg.norm(out - x, axis=-1))


def test_one_declaration_for_all_steps() -> None:
    """The three steps have the same three holds, of one declaration each."""
    for name in RANGES:
        declared = [info_of(registry()[kind].model_fields[f"hold_{name}"]) for kind in STRONG]
        assert declared[0] is not None and declared[0] == declared[1] == declared[2]
        assert declared[0].source == RANGES[name].source
    others = {k: s for k, s in registry().items() if k not in STRONG}
    assert not any(f.startswith("hold") for s in others.values() for f in s.model_fields)


@each
@pytest.mark.parametrize("name", RANGES)
def test_a_hold_lessens_the_step_on_its_own_colours_only(kind: str, name: str) -> None:
    held = RANGES[name]
    free, half, whole = (float(moved(kind, held.hue, **{f"hold_{name}": a})[0]) for a in (0.0, 0.5, 1.0))
    assert free > 0.004  # there is something to hold
    # The fade toward neutral, and what holds leave of a tint by it, keep some of the effect at this saturation.
    assert whole < 0.2 * free and 0.35 * free < half < 0.65 * free
    for other in (r for r in RANGES.values() if r is not held):
        assert moved(kind, other.hue, **{f"hold_{name}": 1.0}) == pytest.approx(moved(kind, other.hue), rel=0.1)


@each
@settings(max_examples=10)
@given(amount=st.floats(0.0, 1.0), name=st.sampled_from(list(RANGES)))
def test_no_seam(kind: str, amount: float, name: str) -> None:
    """Along a ring of hues, and from grey outward, the effect changes as gently as it does without the hold, or the
    hold's own bell does: no faster than the whole effect in 24 degrees."""
    ring = np.arange(0.0, 360.0, 0.5)
    free, held = (np.diff(moved(kind, ring, **{f"hold_{name}": a})) / 0.5 for a in (0.0, amount))
    whole = moved(kind, ring).max()
    assert np.abs(held).max() <= np.abs(free).max() + whole / 24.0
    out = moved(kind, RANGES[name].hue, np.linspace(0.0, 0.6, 121), **{f"hold_{name}": amount})
    assert np.abs(np.diff(out, 2)).max() < 0.15 * max(whole, np.abs(out).max())  # no corner: steps of 0.005


@each
def test_the_sentence_tells_of_holds(kind: str) -> None:
    words = registry()[kind](**STRONG[kind], hold_skin=0.6, hold_leaves=0.3).in_words()
    assert words.endswith(", holding 60 % of skin and 30 % of leaves")
    assert "holding" not in registry()[kind](hold_skin=0.6).in_words()  # there is nothing to hold from


RED = """
format = 2
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "hues"
[[step.band]]
centre = 22.0
width = 18.0
saturation = {band}
[[step]]
kind = "saturation"
amount = 1.27
[[step]]
kind = "print"
print_gamma = 2.8
"""


@pytest.mark.parametrize(("saturation", "stops"), [(0.33, -0.8), (0.45, -1.5)])
def test_a_band_at_22_degrees_gives_strong_reds_their_texture_back(saturation: float, stops: float) -> None:
    """A red cloth (the chart's red lies at 21 degrees, 0.33) with folds of a quarter stop, under a strong look.

    Texture is the spread in Oklab lightness over that of the plain rendering.
    """
    from lookwright.colour.spaces import oklab

    rng = np.random.default_rng(4)
    noise = rng.normal(0.0, 1.0, (3, 2000))
    hue = np.radians(22.0 + 2.0 * noise[0])
    chroma = saturation * (1.0 + 0.08 * noise[1])
    lightness = oklab.GREY_LIGHTNESS * np.exp2((stops + 0.25 * noise[2]) / 3.0)
    scene = oklab.opponent_to_scene(np.stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1))

    def texture(band: float, strength: float = 1.0) -> float:
        look = parse_look(RED.format(band=band)).with_strength(strength)
        signal = compile_look(look)(look.source.signal().from_scene(scene))
        return float(oklab.light_to_oklab(look.output.signal().decode(signal), oklab.lms_matrix("BT.709"))[:, 0].std())

    plain = texture(1.0, 0.0)
    without, eased = texture(1.0) / plain, texture(0.8) / plain
    assert without < 0.94 and eased > without + 0.05 and eased > 0.96
