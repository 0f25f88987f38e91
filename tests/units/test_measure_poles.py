"""Poles of frames whose colours are known."""

import json

import numpy as np
import pytest

from lookwright.assess.measure.poles import poles, signal_percent
from lookwright.colour.spaces.oklab import oklab_to_light


def painted(*parts: tuple[float, float, float, int]) -> np.ndarray:
    """Display light of a frame of (lightness, chroma, hue in degrees, pixels) parts."""
    rows = [[v, c * np.cos(np.radians(h)), c * np.sin(np.radians(h))] for v, c, h, n in parts for _ in range(n)]
    return oklab_to_light(np.array(rows))


def test_two_known_poles() -> None:
    found = poles(painted((0.6, 0.10, 60, 300), (0.4, 0.05, 240, 500), (0.5, 0.0, 0, 200)))
    assert found.warm.hue_deg == pytest.approx(60, abs=1e-6) and found.cool.hue_deg == pytest.approx(240, abs=1e-6)
    assert (found.warm.share, found.cool.share, found.neutral_share) == pytest.approx((0.3, 0.5, 0.2))
    assert found.hue_separation_deg == pytest.approx(180, abs=1e-6)
    assert found.colour_distance == pytest.approx(0.15, abs=1e-9)
    assert found.distance == pytest.approx(np.hypot(0.15, 0.2), abs=1e-9)
    assert found.warm.gathered == pytest.approx(1.0) and found.warm.chroma == pytest.approx(0.10)


def test_hue_mean_is_weighted_by_chroma_and_circular() -> None:
    # Hues 350 and 20 with chroma 0.05 and 0.10: direction of the vector sum, not (350 + 20) / 2 = 185.
    a = 0.05 * np.cos(np.radians(350)) + 0.10 * np.cos(np.radians(20))
    b = 0.05 * np.sin(np.radians(350)) + 0.10 * np.sin(np.radians(20))
    found = poles(painted((0.5, 0.05, 350, 100), (0.5, 0.10, 20, 100)))
    assert found.warm.hue_deg == pytest.approx(np.degrees(np.arctan2(b, a)) % 360, abs=1e-6)
    assert found.warm.gathered == pytest.approx(np.hypot(a, b) / 0.15, abs=1e-9)


@pytest.mark.parametrize("value", [0.0, 0.18, 1.0])
def test_neutral_frame_has_no_poles_and_no_nan(value: float) -> None:
    found = poles(np.full((20, 30, 3), value))
    assert found.warm.share == found.cool.share == 0.0 and found.neutral_share == 1.0
    assert found.hue_separation_deg is None and found.distance == 0.0
    assert found.in_words() == "No warm part; no cool part."
    json.dumps(found.to_dict(), allow_nan=False)


def test_a_few_stray_pixels_are_no_pole() -> None:
    found = poles(painted((0.5, 0.08, 50, 9995), (0.5, 0.08, 250, 5)))
    assert found.cool.share == 0.0 and found.cool.in_words() == "no cool part"


def test_tints_are_taken_by_level() -> None:
    # Y is about L cubed: lightness 0.3 is 0.027 of white, 22 % signal; 0.85 is 0.61, 82 %.
    found = poles(painted((0.30, 0.02, 250, 500), (0.85, 0.03, 70, 500)))
    assert found.shadows.hue_deg == pytest.approx(250, abs=1e-6) and found.shadows.chroma == pytest.approx(0.02)
    assert found.highlights.hue_deg == pytest.approx(70, abs=1e-6) and found.highlights.share == pytest.approx(0.5)


def test_tones_are_signal_percent() -> None:
    # BT.1886 with black at 0: 0.5 signal is 0.189464570814 of white.
    found = poles(np.full((10, 10, 3), 0.189464570814))
    assert found.tones["p50"] == pytest.approx(50.0, abs=1e-7)
    assert signal_percent(np.array([-0.1, -0.1, -0.1])) == 0.0


def test_thinning_keeps_the_figures() -> None:
    rng = np.random.default_rng(3)
    light = rng.random((400, 500, 3)) ** 2.4
    whole, thinned = poles(light), poles(light, most=20_000)
    assert thinned.warm.share == pytest.approx(whole.warm.share, abs=0.01)
    assert thinned.warm.hue_deg == pytest.approx(whole.warm.hue_deg, abs=2.0)
