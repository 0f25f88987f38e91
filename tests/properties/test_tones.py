"""The step `tones`: greys that always rise, tones that stay among themselves, tints that are those of a balance."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from recipe_strategies import context, steps

from lookwright.colour.balance import balance_matrix
from lookwright.colour.spaces import oklab
from lookwright.look.steps import registry
from lookwright.look.steps.base import Step
from lookwright.look.steps.rising import Shift, opened
from lookwright.look.steps.split import Split
from lookwright.look.steps.tones import Tones

STOPS = np.arange(-16.0, 12.0, 0.01)


def graded(step: Step, stops: np.ndarray) -> np.ndarray:
    """(n, 3) scene light that greys at so many stops from middle grey become."""
    scene = 0.18 * np.exp2(stops)[:, None] * np.ones(3)
    return np.asarray(oklab.opponent_to_scene(step.prepare(context())(oklab.scene_to_opponent(scene))))


def luminous(step: Step, stops: np.ndarray) -> np.ndarray:
    """Oklab lightness of what greys become."""
    return np.asarray(oklab.light_to_oklab(graded(step, stops), oklab.SCENE_TO_LMS)[:, 0])


CORNERS = list(product((-2.0, 2.0), (-2.0, 2.0), (-2.0, 2.0), ((-6.0, 6.0), (0.0, 0.0), (0.0, 6.0)), (1.5, 6.0)))


def test_greys_rise_in_every_corner_of_the_bounds() -> None:
    """48 corners: every light at an end, borders apart, together and lopsided, narrow and wide; black stays black."""
    for shadows, middle, highlights, (low, high), width in CORNERS:
        step = Tones(
            shadows={"stops": shadows, "mired": 60.0, "tint": -0.02},
            middle={"stops": middle, "mired": -60.0, "tint": 0.02},
            highlights={"stops": highlights, "mired": 60.0, "tint": 0.02},
            shadows_below=low,
            highlights_above=high,
            width=width,
        )
        light = luminous(step, STOPS)
        # Two borders on one spot press the scale twice: to 1 / (1 + 1.875 * 2 / 1.5)^2 = 0.08 of its slope.
        slope = np.diff(np.log2(light)) * 3.0 / 0.01
        assert slope[STOPS[:-1] > -12.0].min() > 0.08
        assert (np.diff(light) > 0.0).all()
        np.testing.assert_allclose(step.prepare(context())(np.zeros(3)), 0.0, rtol=0, atol=0)


@given(step=steps("tones"))
def test_greys_rise_for_any_values(step: Tones) -> None:
    """Through black, too: light below zero, which noise has, stays below what is above."""
    scene = np.concatenate([-(0.18 * np.exp2(STOPS[800::-8])), [0.0], 0.18 * np.exp2(STOPS[::8])])
    out = step.prepare(context())(oklab.scene_to_opponent(scene[:, None] * np.ones(3)))
    assert (np.diff(out[:, 0]) > 0.0).all()


def test_each_tone_moves_by_its_light_and_leaves_the_others() -> None:
    """With the borders as they stand: 4 stops under grey, grey and 4.5 over it; grey does not notice its neighbours."""
    step = Tones(shadows={"stops": -0.5}, middle={"stops": 0.25}, highlights={"stops": 0.4})
    at = np.array([-8.0, -4.0, 0.0, 4.5, 8.0])
    moved = np.log2(graded(step, at)[:, 1] / 0.18) - at
    np.testing.assert_allclose(moved, [-0.5, -0.5, 0.25, 0.4, 0.4], rtol=0, atol=1e-3)
    for name in ("shadows", "highlights"):
        for stops in (-2.0, 2.0):
            alone = Tones(**{name: {"stops": stops}})
            np.testing.assert_allclose(graded(alone, np.array([0.0, 0.45, -0.45]))[0], 0.18, rtol=1e-6, atol=0)


@given(by=st.floats(-4.0, 4.0), border=st.floats(-6.0, 6.0), width=st.floats(1.5, 6.0))
def test_what_closes_undoes_what_opens(by: float, border: float, width: float) -> None:
    back = opened(opened(STOPS, by, border, width), -by, border, width)
    np.testing.assert_allclose(back, STOPS, rtol=0, atol=1e-12)


@given(light=st.tuples(*[st.floats(-2.0, 2.0)] * 3), width=st.floats(1.5, 6.0))
def test_the_table_is_the_curve(light: tuple[float, float, float], width: float) -> None:
    """Between its points, a 32nd of a stop apart, to a thousandth of a stop."""
    from lookwright.look.steps.rising import three_tones

    exact = three_tones(STOPS, light, -2.0, 2.0, width) - STOPS
    np.testing.assert_allclose(Shift(light, -2.0, 2.0, width)(STOPS), exact, rtol=0, atol=1e-3)


@given(step=steps("tones"), hue=st.floats(0.0, 6.28), saturation=st.floats(0.0, 0.5), stops=st.floats(-9.0, 7.0))
def test_light_keeps_hue_and_saturation(step: Tones, hue: float, saturation: float, stops: float) -> None:
    plain = {n: getattr(step, n).model_copy(update={"mired": 0.0, "tint": 0.0}) for n in ("shadows", "middle")}
    step = step.model_copy(update={**plain, "highlights": plain["middle"]})
    x = np.array([oklab.GREY_LIGHTNESS * 2.0 ** (stops / 3.0), saturation * np.cos(hue), saturation * np.sin(hue)])
    assert np.array_equal(step.prepare(context())(x)[1:], x[1:])


@given(mired=st.floats(-60.0, 60.0), tint=st.floats(-0.02, 0.02))
def test_a_tint_makes_of_grey_what_a_balance_makes(mired: float, tint: float) -> None:
    """Same chromaticity as `balance` with the same numbers; the light stays."""
    step = Tones(middle={"mired": mired, "tint": tint})
    out = step.prepare(context())(oklab.scene_to_opponent(np.full(3, 0.18)))
    whole = oklab.scene_to_opponent(balance_matrix(mired, tint) @ np.full(3, 0.18))
    np.testing.assert_allclose(out[1:], whole[1:], rtol=1e-3, atol=1e-6)  # guard of the ratios: (0.01 / 0.56)^2 / 2
    assert out[0] == pytest.approx(oklab.GREY_LIGHTNESS, rel=1e-12)
    warm = Tones(middle={"mired": 10.0}).prepare(context())(oklab.scene_to_opponent(np.full(3, 0.18)))
    assert warm[2] > 0.005  # + is toward yellow


@pytest.mark.parametrize(
    "step",
    [
        Tones(shadows={"mired": -30.0}, middle={"mired": 20.0}, highlights={"tint": 0.01}, spare_grey=1.0, width=6.0),
        Split(cool_shadows=0.04, warm_highlights=0.03, neutral_hold=0.0, spare_grey=1.0),
    ],
    ids=["tones", "split"],
)
def test_a_tint_that_spares_the_card_is_nothing_there_and_returns(step: Step) -> None:
    at = np.array([0.0, -3.0, 2.4, 0.5])
    tint, whole = (
        np.hypot(*s.prepare(context())(oklab.scene_to_opponent(0.18 * np.exp2(at)[:, None] * np.ones(3)))[:, 1:].T)
        for s in (step, step.model_copy(update={"spare_grey": 0.0}))
    )
    assert whole[0] > 0.003
    # The guard of lightness near black puts grey 7e-4 of a stop over 0: 3e-7 of the tint is there, and 3e-4 more of
    # it half a stop away, where it changes fastest.
    assert tint[0] < 1e-6 * whole[0]
    np.testing.assert_allclose(tint[1:] / whole[1:], 1.0 - np.exp2(-(at[1:] ** 2)), rtol=0, atol=5e-4)


@pytest.mark.parametrize("kind", ["split", "tones"])
@given(data=st.data())
def test_ends_of_the_scale_take_no_tint(kind: str, data: st.DataObject) -> None:
    step = data.draw(steps(kind))
    ends = np.concatenate([0.18 * 2.0 ** np.linspace(-16, -9.3, 20), 0.18 * 2.0 ** np.linspace(5.5, 10, 20), [0.0]])
    out = step.prepare(context())(oklab.scene_to_opponent(ends[:, None] * np.ones(3)))
    np.testing.assert_allclose(out[:, 1:], 0.0, rtol=0, atol=1e-12)


def test_the_step_says_what_it_does() -> None:
    words = registry()["tones"](shadows={"stops": -0.3, "mired": -8.0}, highlights={"tint": 0.002}, spare_grey=0.5)
    assert words.in_words() == (
        "shadows -0.3 stops, 8 mired cooler; highlights 0.002 Duv greener (shadows below -2, highlights above +2), "
        "the grey card spared 50 % of the tint"
    )
