"""Levels: statistics of the signal, and light found by decoding pixel by pixel."""

import json

import numpy as np
import pytest

from lookwright.assess.measure.levels import FLOOR_STOPS, level, levels, scene_light
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError
from lookwright.look.steps.base import Context
from lookwright.look.steps.render import Render
from lookwright.pictures.stills import Mark

DISPLAY, LOG = Signal.named("BT.1886"), Signal.named("ACEScct")


def test_light_is_averaged_after_decoding() -> None:
    # Half black, half white: mean signal 50 %, mean light 50 % of white; decoding the mean signal would give 19 %
    # (0.5 ^ 2.4 = 0.189, BT.1886).
    x = np.zeros((2, 2, 3))
    x[0] = 1.0
    measured = level(x, DISPLAY)
    assert measured.luma.mean == pytest.approx(50.0, abs=1e-9)
    assert measured.display is not None
    assert measured.display.relative.mean == pytest.approx(0.5, abs=1e-9)


def test_percentiles_of_a_ramp() -> None:
    ramp = np.repeat(np.linspace(0.0, 1.0, 101)[:, None], 3, axis=1)
    measured = level(ramp, DISPLAY)
    assert (measured.luma.p5, measured.luma.median, measured.luma.p95) == pytest.approx((5.0, 50.0, 95.0))
    assert measured.red.median == pytest.approx(50.0) and measured.pixels == 101


def test_estimate_undoes_the_plain_rendering() -> None:
    scene = np.array([0.01, 0.05, 0.18, 0.5, 2.0])[:, None] * np.ones(3)
    shown = DISPLAY.from_light(Render().prepare(Context(LOG, DISPLAY))(scene))
    estimate, estimated = scene_light(shown, DISPLAY)
    assert estimated
    np.testing.assert_allclose(estimate, scene, rtol=1e-6)
    grey = level(shown[2:3], DISPLAY, "grey card")
    assert grey.scene.estimated and grey.scene.stops == pytest.approx(0.0, abs=1e-6)
    # 18 % grey lands on 38.3 % signal: zero stops of display light by definition.
    assert grey.luma.median == pytest.approx(38.3, abs=1e-6)
    assert grey.display is not None and grey.display.stops == pytest.approx(0.0, abs=1e-6)
    assert "estimated through the plain rendering" in grey.in_words()


def test_black_has_a_floor_and_goes_into_json() -> None:
    for signal in (DISPLAY, LOG):
        black = level(np.zeros((3, 3, 3)), signal)
        assert black.scene.stops == FLOOR_STOPS
        text = json.dumps(black.to_dict(), allow_nan=False)
        assert json.loads(text)["scene"]["stops"] == FLOOR_STOPS


def test_marks_by_name_in_order() -> None:
    x = np.zeros((10, 10, 3))
    x[:, 5:] = 0.8
    marks = [Mark("right", (0.5, 0.0, 0.5, 1.0)), Mark("left", (0.0, 0.0, 0.5, 1.0))]
    measured = levels(x, DISPLAY, marks)
    assert list(measured) == ["right", "left"]
    assert measured["right"].luma.mean == pytest.approx(80.0) and measured["left"].luma.mean == 0.0


@pytest.mark.parametrize(
    ("pixels", "words"),
    [(np.zeros((2, 2, 4)), "shape"), (np.zeros((0, 3)), "no pixels"), (np.full((2, 3), np.nan), "NaN")],
)
def test_refusals(pixels: np.ndarray, words: str) -> None:
    with pytest.raises(PictureError, match=words):
        level(pixels, DISPLAY)


def test_imaginary_blue_gets_bt709_weights() -> None:
    # The blue primary of this set has y = -0.087: its luminance weight is negative.
    wide = Signal.named("S-Log3")
    assert wide.primaries.luminance.min() < 0
    assert level(np.full((1, 1, 3), 0.4), wide).weights == "BT.709 luma"
