"""What the steps promise of colour: pivots, hues that never fold, greys that stay grey, a gamut that fits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from recipe_strategies import DISPLAYS, context, numbers, steps

from lookwright.colour.spaces import oklab
from lookwright.colour.spaces.primaries import matrix, primaries
from lookwright.colour.spaces.signal import Signal
from lookwright.look.steps import registry
from lookwright.look.steps.contrast import Contrast
from lookwright.look.steps.gamut import Gamut, boundary
from lookwright.look.steps.params import Declared, info_of
from lookwright.look.steps.saturation import Saturation
from lookwright.look.steps.split import Split

GREYS = 0.18 * 2.0 ** np.linspace(-16.0, 10.0, 105)


def _param(model: type[Declared], name: str) -> st.SearchStrategy[float]:
    declared = info_of(model.model_fields[name])
    assert declared is not None
    return numbers(declared)


# --- contrast


@given(step=steps("contrast"))
def test_contrast_keeps_its_pivot(step: Contrast) -> None:
    out = step.prepare(context())(np.full(3, step.level))
    np.testing.assert_allclose(out, step.level, rtol=1e-12, atol=0)


@given(step=steps("contrast"))
def test_contrast_has_its_slope_at_the_pivot(step: Contrast) -> None:
    # Central difference in log-log over h = 1e-3 stops. Its error is h^2 / 6 times the third derivative, which the
    # formula keeps below 3 (toe and shoulder 1, slope 2.5: 3 k^2 (slope - 1) ~ 1.1; floor at a level of 0.0025: 0.1),
    # so below 1e-6; rounding adds 1e-16 / h.
    h = 1e-3
    light = step.level * 2.0 ** np.array([-h, h])[:, None] * np.ones(3)
    out = step.prepare(context())(light)
    np.testing.assert_allclose(np.diff(np.log2(out), axis=0)[0] / (2 * h), step.slope, rtol=0, atol=1e-6)


def test_contrast_about_faces_leaves_them() -> None:
    """A pivot in stops over grey is that level: faces stay, grey below them gets darker by the slope."""
    faces = 0.18 * 2.0**1.4
    step = Contrast(slope=1.3, pivot_stops=1.4)
    assert step.level == pytest.approx(faces, rel=1e-12)
    out = step.prepare(context())(np.array([[faces] * 3, [0.18] * 3]))
    np.testing.assert_allclose(np.log2(out[:, 1] / [faces, 0.18]), [0.0, -0.3 * 1.4], rtol=0, atol=1e-6)
    same = step.model_copy(update={"pivot": faces, "pivot_stops": 0.0}).prepare(context())
    np.testing.assert_allclose(same(GREYS), step.prepare(context())(GREYS), rtol=1e-12, atol=0)


@given(step=steps("contrast"))
def test_contrast_rises_everywhere(step: Contrast) -> None:
    light = np.concatenate([-GREYS[60::-1], [0.0], GREYS])
    out = step.prepare(context())(light[:, None] * np.ones(3))
    assert (np.diff(out, axis=0) > 0).all()
    np.testing.assert_allclose(out[light == 0.0], 0.0, rtol=0, atol=0)


@given(step=steps("contrast"), colour=st.tuples(*[st.floats(0.001, 10.0)] * 3))
def test_contrast_on_luminance_keeps_the_ratios_of_channels(step: Contrast, colour: tuple[float, ...]) -> None:
    step = step.model_copy(update={"luminance": 1.0})
    x = np.array(colour)
    gain = step.prepare(context())(x) / x
    np.testing.assert_allclose(gain, gain[0], rtol=1e-12, atol=0)


# --- hue maps

RING = np.linspace(-np.pi, np.pi, 20_001)


@given(step=steps("split"))
def test_split_hue_map_strictly_increases(step: Split) -> None:
    """Dense circle, parameters anywhere in their hard bounds: no fold, no reversal, one turn in all."""
    moved = step.hue_map()(RING)
    assert (np.diff(moved) > 0).all()
    np.testing.assert_allclose(moved[-1] - moved[0], 2 * np.pi, rtol=0, atol=1e-12)


@pytest.mark.parametrize("kind", ["split", "hues"])
@pytest.mark.parametrize("saturation", [0.004, 0.05, 0.3])
@given(data=st.data())
def test_hue_order_on_a_ring_of_colours(kind: str, saturation: float, data: st.DataObject) -> None:
    """The step as it runs, tints off: hues of equal saturation keep their order round the circle."""
    step = data.draw(steps(kind))
    if kind == "split":
        step = step.model_copy(update={"cool_shadows": 0.0, "warm_highlights": 0.0})
    ring = RING[::4]
    x = np.stack([np.full(len(ring), 0.5), saturation * np.cos(ring), saturation * np.sin(ring)], axis=-1)
    out = step.prepare(context())(x)
    turned = np.unwrap(np.arctan2(out[:, 2], out[:, 1]))
    assert (np.diff(turned) > 0).all()
    np.testing.assert_allclose(turned[-1] - turned[0], 2 * np.pi, rtol=0, atol=1e-9)


@given(
    warm=_param(Split, "warm"), cool=_param(Split, "cool"), pull=st.floats(0.05, 1.0), spread=_param(Split, "spread")
)
def test_split_gathers_hues_at_its_poles(warm: float, cool: float, pull: float, spread: float) -> None:
    """Without a hold the poles themselves stay and every hue comes nearer to the pole of its side, or stays."""
    step = Split(warm=warm, cool=cool, pull=pull, spread=spread, hold={"amount": 0.0})
    shift = step.hue_map()
    poles = np.radians([warm, cool])
    # The map is a table: between its points it errs by its step squared times its curvature, which full pull with full
    # spread makes largest (4e-5 found by a random search; 1e-4 is 0.006 degrees).
    np.testing.assert_allclose(shift.displacement(poles), 0.0, rtol=0, atol=1e-4)
    middle = 0.5 * (poles.sum())  # half way along the arc from warm up to cool
    for hue, pole in ((middle - 0.3, poles[0]), (middle + 0.3, poles[1])):
        moved = float(shift(np.array(hue)))
        assert abs(moved - pole) < abs(hue - pole)


@given(amount=st.floats(0.3, 1.0), centre=st.floats(35.0, 60.0))
def test_split_hold_keeps_skin_nearer(amount: float, centre: float) -> None:
    """Held hues turn less than without the hold, and not at all with a full one at its centre."""
    free = Split(warm=90.0, pull=1.0, hold={"hue": centre, "amount": 0.0}).hue_map()
    held = Split(warm=90.0, pull=1.0, hold={"hue": centre, "amount": amount}).hue_map()
    hue = np.radians(np.array(centre))
    assert abs(held.displacement(hue)) < abs(free.displacement(hue))
    full = Split(warm=90.0, pull=1.0, hold={"hue": centre, "amount": 1.0}).hue_map()
    np.testing.assert_allclose(full.displacement(hue), 0.0, rtol=0, atol=1e-6)


# --- neutrals


@pytest.mark.parametrize("kind", ["saturation", "hues", "split"])
@given(data=st.data())
def test_neutrals_stay_neutral(kind: str, data: st.DataObject) -> None:
    """Greys carry no colour after the step, with the tints of split at 0."""
    step = data.draw(steps(kind))
    if kind == "split":
        step = step.model_copy(update={"cool_shadows": 0.0, "warm_highlights": 0.0})
    scene = np.concatenate([-GREYS[:40], [0.0], GREYS])[:, None] * np.ones(3)
    opponent = oklab.scene_to_opponent(scene)
    np.testing.assert_allclose(opponent[:, 1:], 0.0, rtol=0, atol=1e-12)
    out = step.prepare(context())(opponent)
    np.testing.assert_allclose(out[:, 1:], 0.0, rtol=0, atol=1e-12)
    back = oklab.opponent_to_scene(out)
    np.testing.assert_allclose(back, back[:, :1] * np.ones(3), rtol=1e-12, atol=1e-15)


@given(step=steps("split"))
def test_tints_leave_the_ends_of_the_scale_neutral(step: Split) -> None:
    """Deepest black (9 stops under grey and darker) and bright white (5.5 over and more) take no tint."""
    ends = np.concatenate([0.18 * 2.0 ** np.linspace(-16, -9.3, 20), 0.18 * 2.0 ** np.linspace(5.5, 10, 20), [0.0]])
    out = step.prepare(context())(oklab.scene_to_opponent(ends[:, None] * np.ones(3)))
    np.testing.assert_allclose(out[:, 1:], 0.0, rtol=0, atol=1e-12)


def test_tints_go_where_they_say() -> None:
    """Shadows toward the cool pole, highlights toward the warm one, by no more than the asked saturation."""
    step = Split(cool_shadows=0.03, warm_highlights=0.02, neutral_hold=0.0)
    scene = 0.18 * 2.0 ** np.array([-4.0, 2.0])[:, None] * np.ones(3)
    out = step.prepare(context())(oklab.scene_to_opponent(scene))
    hue, saturation = oklab.hue_and_saturation(out)
    np.testing.assert_allclose(np.degrees(hue) % 360, [step.cool, step.warm], rtol=0, atol=20.0)
    assert 0.015 < saturation[0] <= 0.03 and 0.01 < saturation[1] <= 0.02


# --- opponent domain


@given(
    colour=st.tuples(*[st.floats(0.2, 5.0)] * 3),
    stops=st.floats(-1.0, 4.0),
)
def test_opponent_ratios_do_not_move_with_exposure(colour: tuple[float, ...], stops: float) -> None:
    """a/L and b/L of a colour well above the floor, at two exposures.

    The guarded divisor is L sqrt(1 + (floor / L)^2): the ratios fall short by half of (floor / L)^2, no more.
    """
    scene = np.array(colour)
    one, two = oklab.scene_to_opponent(scene), oklab.scene_to_opponent(scene * 2.0**stops)
    shortfall = 0.5 * (oklab.LIGHTNESS_FLOOR / min(one[0], two[0])) ** 2
    np.testing.assert_allclose(two[1:], one[1:], rtol=1.01 * shortfall + 1e-12, atol=1e-14)
    np.testing.assert_allclose(two[0], one[0] * 2.0 ** (stops / 3.0), rtol=1e-12, atol=0)


@given(colour=st.tuples(*[st.floats(-0.5, 60.0)] * 3))
def test_opponent_round_trip(colour: tuple[float, ...]) -> None:
    scene = np.array(colour)
    back = oklab.opponent_to_scene(oklab.scene_to_opponent(scene))
    np.testing.assert_allclose(back, scene, rtol=0, atol=1e-12 * max(1.0, float(np.abs(scene).max())))


# --- saturation


@given(
    step=steps("saturation"),
    hue=st.floats(0.0, 6.28),
    saturation=st.floats(0.001, 0.4),
    lightness=st.floats(0.05, 2.0),
)
def test_saturation_keeps_hue_and_never_brightens(
    step: Saturation, hue: float, saturation: float, lightness: float
) -> None:
    x = np.array([lightness, saturation * np.cos(hue), saturation * np.sin(hue)])
    out = step.prepare(context())(x)
    assert out[0] <= lightness * (1.0 + 1e-15)
    if step.density == 0.0:
        assert out[0] == lightness
    # Along the same direction: no cross product, no turn to the other side.
    assert abs(x[1] * out[2] - x[2] * out[1]) < 1e-15
    assert x[1] * out[1] + x[2] * out[2] >= 0.0
    if step.amount == 0.0 and not (step.hold_skin or step.hold_sky or step.hold_leaves):
        assert not out[1:].any()


# --- gamut


def _display_colours() -> np.ndarray:
    """Display light (BT.2020) in, at and beyond any output: grid, random, near black, far out; relative to the peak."""
    rng = np.random.default_rng(5)
    axis = np.linspace(-0.15, 1.15, 12)
    return np.concatenate(
        [
            np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3),
            rng.uniform(0.0, 1.0, (3000, 3)),
            rng.uniform(0.0, 1.0, (2000, 3)) ** 4,
            rng.normal(0.0, 1e-3, (300, 3)),
            rng.uniform(-1.0, 3.0, (300, 3)),
            np.repeat(np.linspace(0.0, 1.0, 40)[:, None], 3, axis=1),
        ]
    )


COLOURS = _display_colours()


@pytest.mark.parametrize("output", DISPLAYS)
@given(step=steps("gamut"))
def test_gamut_fits_at_constant_hue_and_lightness(output: str, step: Gamut) -> None:
    signal = Signal.named(output)
    peak = signal.encoding.peak
    x = COLOURS[:: 2 if peak == 1.0 else 3] * peak
    out = step.prepare(context(output=output))(x)
    rgb = out @ matrix("BT.2020", signal.primaries.name).T
    # Bisection stops within 1e-6 of the boundary's chroma; black and white are exact to rounding.
    assert rgb.min() >= -1e-7 * peak
    assert rgb.max() <= peak * (1.0 + 1e-7)
    before, after = oklab.light_to_oklab(x), oklab.light_to_oklab(out)
    # cbrt of what is left of a black is 1e-6 of lightness.
    np.testing.assert_allclose(after[:, 0], np.clip(before[:, 0], 0.0, np.cbrt(peak)), rtol=1e-9, atol=1e-6)
    chroma_before, chroma_after = np.hypot(*before[:, 1:].T), np.hypot(*after[:, 1:].T)
    assert (chroma_after <= chroma_before + 1e-6).all()
    visible = (chroma_after > 1e-3) & (after[:, 0] > 0.01)
    cross = before[:, 1] * after[:, 2] - before[:, 2] * after[:, 1]
    sine = cross[visible] / (chroma_before * chroma_after)[visible]
    np.testing.assert_allclose(sine, 0.0, rtol=0, atol=1e-9)


@pytest.mark.parametrize("output", DISPLAYS)
@given(step=steps("gamut"))
def test_gamut_leaves_colours_inside_the_threshold_bit_for_bit(output: str, step: Gamut) -> None:
    signal = Signal.named(output)
    peak = signal.encoding.peak
    # Colours pulled halfway to 0.29 of the way from grey to the boundary: inside every allowed threshold (0.3).
    lab = oklab.light_to_oklab(np.random.default_rng(6).uniform(0.05, 0.9, (500, 3)) * peak)
    to_rgb = matrix("BT.2020", signal.primaries.name) @ oklab.LMS_TO_DISPLAY
    lab[:, 1:] *= np.minimum(1.0, 0.29 * boundary(lab, to_rgb, peak))[:, None]
    x = oklab.oklab_to_light(lab)
    out = step.prepare(context(output=output))(x)
    assert np.array_equal(out, x)


@pytest.mark.parametrize("output", DISPLAYS)
def test_gamut_is_continuous(output: str) -> None:
    """Neighbours stay neighbours: a step of 1e-4 in Oklab never becomes more than 30 times that."""
    signal = Signal.named(output)
    peak = signal.encoding.peak
    rng = np.random.default_rng(8)
    hue = rng.uniform(0.0, 2 * np.pi, 4000)
    chroma, light = rng.uniform(0.0, 0.5, 4000), rng.uniform(0.02, 0.98, 4000)
    lab = np.stack([light, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
    there = lab + rng.normal(0.0, 1.0, lab.shape) * 1e-4 / np.sqrt(3.0)
    scale = np.cbrt(peak)
    op = Gamut().prepare(context(output=output))
    a, b = (oklab.light_to_oklab(op(oklab.oklab_to_light(p * scale))) / scale for p in (lab, there))
    stretch = np.linalg.norm(a - b, axis=1) / np.linalg.norm(lab - there, axis=1)
    assert stretch.max() < 30.0


@pytest.mark.parametrize("output", DISPLAYS)
def test_gamut_rises_along_every_ray_from_grey(output: str) -> None:
    """At one lightness and hue, more chroma in never gives less chroma out, and never jumps."""
    signal = Signal.named(output)
    peak = signal.encoding.peak
    op = Gamut().prepare(context(output=output))
    chroma = np.linspace(0.0, 0.6, 201)
    degrees = np.concatenate([np.arange(0.0, 360.0, 8.0), [262.0, 264.0, 266.0]])
    hue, light, chroma = np.meshgrid(np.radians(degrees), [0.2, 0.45, 0.7, 0.95], chroma, indexing="ij")
    lab = np.stack([light, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
    out = oklab.light_to_oklab(op(oklab.oklab_to_light(lab * np.cbrt(peak)))) / np.cbrt(peak)
    rise = np.diff(np.hypot(out[..., 1], out[..., 2]), axis=-1)
    assert rise.min() > -1e-7
    assert rise.max() < 1.001 * (chroma[0, 0, 1] - chroma[0, 0, 0]) + 1e-7


# --- exposure and balance


@given(stops=_param(registry()["exposure"], "stops"))
def test_exposure_is_a_power_of_two(stops: float) -> None:
    x = np.array([0.18, -0.01, 3.0])
    out = registry()["exposure"](stops=stops).prepare(context())(x)
    np.testing.assert_allclose(out, x * 2.0**stops, rtol=1e-15, atol=0)


@given(mired=_param(registry()["balance"], "mired"))
def test_balance_by_mired_alone_keeps_the_luminance_of_white(mired: float) -> None:
    out = registry()["balance"](mired=mired).prepare(context())(np.ones(3))
    np.testing.assert_allclose(primaries("ACEScg").luminance @ out, 1.0, rtol=1e-12, atol=0)
    if abs(mired) > 1e-6:  # below that the two are equal to rounding
        assert (out[0] - out[2]) * mired > 0.0
