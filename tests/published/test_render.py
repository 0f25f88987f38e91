"""The plain rendering keeps what its parameters say: grey, slope, white, and it can be undone.

The figures follow from the definitions in colour/tone.py. That the defaults are ACES 2's is held in test_rendering.py.
"""

import numpy as np
import pytest

from lookwright.colour.plain import plain_scene
from lookwright.colour.spaces.signal import Signal
from lookwright.colour.tone import GREY, ToneCurve
from lookwright.look.steps.base import Context, Step
from lookwright.look.steps.print import Print
from lookwright.look.steps.render import Render

CASES = [
    {},
    {"grey": 25.0},
    {"grey": 60.0},
    {"slope": 0.7, "white": 9.0},
    {"slope": 2.2},
    {"shoulder": 0.3},
    {"shoulder": 4.0},
    {"toe": 0.05},
    {"toe": 0.01, "slope": 1.6, "white": 4.5},
    {"toe": 0.1, "white": 12.0},
    {"white": 2.5, "slope": 1.5},
]


def _curve(case: dict[str, float]) -> tuple[Render, ToneCurve]:
    step = Render(**case)
    return step, step.curve()


@pytest.mark.parametrize("case", CASES, ids=str)
def test_grey_lands_where_it_is_told(case: dict[str, float]) -> None:
    step, curve = _curve(case)
    signal = curve(np.array(GREY)) ** (1 / 2.4) * 100
    np.testing.assert_allclose(signal, step.grey, rtol=1e-12, atol=0)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_slope_at_grey(case: dict[str, float]) -> None:
    # Central difference over 1e-4 stops in log-log: its own error is of the order of 1e-9 for these curves.
    step, curve = _curve(case)
    h = 1e-4
    up, down = (float(np.log2(curve(np.array(GREY * 2.0**d)))) for d in (h, -h))
    np.testing.assert_allclose((up - down) / (2 * h), step.slope, rtol=1e-7, atol=0)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_white_reaches_the_peak(case: dict[str, float]) -> None:
    step, curve = _curve(case)
    got = float(curve(np.array(GREY * 2.0**step.white)))
    np.testing.assert_allclose(got, 1.0, rtol=1e-9, atol=0)


@pytest.mark.parametrize(
    ("output", "peak", "light"), [("BT.1886", 0.0, 1.0), ("BT.1886", 0.8, 0.8), ("sRGB", 1.0, 1.0)]
)
@pytest.mark.parametrize("kind", [Render, Print])
def test_peak_is_times_reference_white(kind: type[Step], output: str, peak: float, light: float) -> None:
    """As it was before an output had a peak of its own; 0 takes that."""
    context = Context(Signal.named("BT.1886"), Signal.named(output))
    brightest = kind(peak=peak).prepare(context)(np.full((1, 3), 1e6)).max()
    assert brightest == pytest.approx(light, rel=1e-3)


@pytest.mark.parametrize(("peak", "nits"), [(0.0, 1000.0), (1.0, 203.0), (1000.0 / 203.0, 1000.0), (20.0, 4060.0)])
@pytest.mark.parametrize("kind", [Render, Print])
def test_peak_of_hdr(kind: type[Step], peak: float, nits: float) -> None:
    context = Context(Signal.named("ACEScct"), Signal.named("BT.2100 PQ"))
    assert 203.0 * kind(peak=peak).prepare(context)(np.full((1, 3), 1e7)).max() == pytest.approx(nits, rel=1e-3)


@pytest.mark.parametrize(
    ("output", "peak", "nits"), [("BT.1886", 2.0, 100), ("BT.2100 HLG", 6.0, 1000), ("sRGB", 0.3, 50)]
)
def test_a_peak_is_held_within_what_the_output_carries(output: str, peak: float, nits: float) -> None:
    assert Render(peak=peak).nits(Signal.named(output).encoding) == pytest.approx(nits)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_rises_everywhere_and_undoes_itself(case: dict[str, float]) -> None:
    step, curve = _curve(case)
    light = GREY * 2.0 ** np.linspace(-12.0, step.white, 400)
    out = curve(light)
    assert (np.diff(out) > 0).all()
    # Within a hundred-thousandth of a stop of the ceiling the curve is flat and light cannot be told back (a hard
    # shoulder gets there); what the inverse gives must still render to the same level.
    np.testing.assert_allclose(curve(curve.inverse(out)), out, rtol=1e-5, atol=0)
    inside = curve.ceiling - np.log2(curve._untoe(out) / curve.grey) > 1e-5
    assert inside.sum() > 300  # the most by far, but fewer where white lies 9.5 stops up and the shoulder is hard
    np.testing.assert_allclose(curve.inverse(out[inside]), light[inside], rtol=1e-9, atol=0)


def test_black_is_black() -> None:
    curve = Render().curve()
    assert abs(float(curve(np.array(0.0)))) < 1e-12
    assert float(curve.inverse(np.array(0.0))) == 0.0


def test_the_inverse_used_for_display_sources_is_that_of_the_default_rendering() -> None:
    rng = np.random.default_rng(7)
    light = rng.uniform(0.0, 1.0, (200, 3)) ** 2
    render = Render().prepare(Context(Signal.named("BT.1886"), Signal.named("BT.1886")))
    from lookwright.colour.spaces.primaries import matrix

    light = light @ matrix("BT.709", "BT.2020").T
    np.testing.assert_allclose(render(plain_scene(light)), light, rtol=0, atol=1e-10)
