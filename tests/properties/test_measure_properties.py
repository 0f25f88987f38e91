"""What must hold for any frame."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from lookwright.assess.measure.levels import level
from lookwright.assess.measure.plausible import findings
from lookwright.assess.measure.poles import poles
from lookwright.assess.measure.ratios import ratio
from lookwright.assess.measure.scopes import exposure_map, vectorscope, waveform
from lookwright.colour.spaces.signal import Signal

LOG, DISPLAY = Signal.named("ACEScct"), Signal.named("BT.1886")
frames = arrays(np.float64, (6, 7, 3), elements=st.floats(-0.2, 1.3))


@settings(deadline=None, max_examples=25)
@given(frames)
def test_everything_is_finite_for_finite_frames(x: np.ndarray) -> None:
    for signal in (LOG, DISPLAY):
        json.dumps(level(x, signal).to_dict(), allow_nan=False)
        json.dumps([f.to_dict() for f in findings(x, signal)], allow_nan=False)
        stops, _ = exposure_map(x, signal)
        assert np.isfinite(stops).all()
        assert waveform(x, signal).counts.sum() == vectorscope(x, signal).counts.sum() == 42
    json.dumps(poles(DISPLAY.to_light(x)).to_dict(), allow_nan=False)


@settings(deadline=None, max_examples=25)
@given(frames, st.permutations(range(42)))
def test_statistics_do_not_depend_on_the_order_of_pixels(x: np.ndarray, order: list[int]) -> None:
    a, b = level(x, DISPLAY), level(x.reshape(-1, 3)[order], DISPLAY)
    assert a.luma.median == b.luma.median and a.luma.mean == pytest.approx(b.luma.mean, abs=1e-9)
    p, q = poles(DISPLAY.to_light(x)), poles(DISPLAY.to_light(x.reshape(-1, 3)[order]))
    assert p.warm.share == q.warm.share and p.distance == pytest.approx(q.distance, abs=1e-9)


@settings(deadline=None, max_examples=25)
@given(st.floats(0.002, 4.0), st.floats(0.002, 4.0), st.floats(-3.0, 3.0))
def test_light_ratio_does_not_move_with_exposure(a: float, b: float, stops: float) -> None:
    def patch(v: float):
        return level(LOG.from_scene(np.full((1, 1, 3), v)), LOG)

    plain = ratio(patch(a), patch(b))
    pushed = ratio(patch(a * 2.0**stops), patch(b * 2.0**stops))
    assert plain.light_stops == pytest.approx(pushed.light_stops, abs=1e-6)
    assert plain.light == pytest.approx(a / b, rel=1e-6)
    back = ratio(patch(b), patch(a))
    assert back.light_stops == pytest.approx(-plain.light_stops, abs=1e-9)
