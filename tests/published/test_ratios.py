"""Lighting arithmetic against printed lessons, and decoded ratios against the standards' own curves."""

import math

import numpy as np
import pytest

from lookwright.assess.measure.levels import MIDDLE_GREY, level, stops_from
from lookwright.assess.measure.ratios import key_over_fill, lighting_ratio, ratio, ratio_of_stops, spoken_stops, stops
from lookwright.colour.spaces.signal import Signal

# 2:1 = 1 stop, 4:1 = 2, 8:1 = 3 are printed in several lighting lessons; the others are log2.
PRINTED = [(1, 0), (2, 1), (4, 2), (8, 3), (16, 4), (32, 5)]


@pytest.mark.parametrize(("quotient", "expected"), PRINTED)
def test_whole_stops_as_printed(quotient: float, expected: float) -> None:
    assert stops(quotient) == expected
    assert ratio_of_stops(expected) == quotient


def test_three_to_one_is_loosely_a_stop_and_a_half() -> None:
    # "3:1, a stop and a half" is loose speech (common practice); log2(3) = 1.584963.
    assert stops(3.0) == pytest.approx(1.584963, abs=5e-7)
    assert spoken_stops(3.0) == 1.5
    assert stops(5.0) == pytest.approx(2.321928, abs=5e-7)


def test_ratios_from_meter_readings() -> None:
    # Printed examples: key 800 fc with fill 200 fc is 4:1; f/8 against f/4 is 4:1.
    assert 800 / 200 == 4 and stops(800 / 200) == 2
    assert stops((8.0 / 4.0) ** 2) == 2


def test_key_plus_fill_over_fill() -> None:
    # (key + fill) : fill on the face; key : fill of n : 1 gives (n + 1) : 1 (same lessons).
    for n in (1.0, 2.0, 3.0, 7.0):
        assert lighting_ratio(n * 50.0, 50.0) == pytest.approx(n + 1.0, rel=1e-12)
        assert key_over_fill(n + 1.0) == pytest.approx(n, rel=1e-12)
    with pytest.raises(ValueError, match="fill must be above 0"):
        lighting_ratio(100.0, 0.0)
    with pytest.raises(ValueError, match="at least 1"):
        key_over_fill(0.5)
    with pytest.raises(ValueError, match="above 0"):
        stops(0.0)


def test_stops_from_middle_grey() -> None:
    # log2(1/0.18), log2(0.9/0.18), log2(0.02/0.18): check table, lighting arithmetic.
    got = stops_from(np.array([1.0, 0.9, 0.02, MIDDLE_GREY]))
    np.testing.assert_allclose(got, [2.473931, 2.321928, -3.169925, 0.0], rtol=0, atol=5e-7)


def patch(code: float, signal: Signal, name: str):
    return level(np.full((4, 4, 3), code), signal, name)


def test_sixty_over_fifteen_through_bt1886() -> None:
    # BT.1886 annex 1 with black at 0 is a pure power of 2.4: (60/15)^2.4 = 4^2.4 = 27.86, 4.8 stops.
    display = Signal.named("BT.1886")
    r = ratio(patch(0.60, display, "key"), patch(0.15, display, "fill"))
    assert r.spoken == pytest.approx(4.0, rel=1e-9) and r.spoken_stops == pytest.approx(2.0, abs=1e-9)
    assert r.displayed == pytest.approx(27.857618, rel=1e-7)
    assert r.displayed_stops == pytest.approx(4.8, abs=1e-9)
    text = r.sentence_when_different()
    assert "4:1 (2.0 stops)" in text and "28:1 (4.8 stops)" in text and "estimated" in text


def test_equal_steps_of_acescct_code_are_stops() -> None:
    # S-2016-001 eq. 1: one stop is 1/17.52 = 0.057077626 of code above the break.
    log = Signal.named("ACEScct")
    r = ratio(patch(0.4 + 3 / 17.52, log, "key"), patch(0.4, log, "fill"))
    assert r.light_stops == pytest.approx(3.0, abs=1e-9) and r.light == pytest.approx(8.0, rel=1e-9)
    assert r.light_is == "light" and r.displayed is None
    # Divided as code it would be called 1.4:1, half a stop.
    assert r.spoken == pytest.approx((0.4 + 3 / 17.52) / 0.4, rel=1e-9)
    assert "8.0:1 (3.0 stops)" in r.sentence_when_different()


def test_linear_light_needs_no_sentence() -> None:
    linear = Signal.named("ACEScg")
    r = ratio(patch(0.6, linear, "key"), patch(0.15, linear, "fill"))
    assert r.light == pytest.approx(4.0, rel=1e-9) and r.light_stops == pytest.approx(2.0, abs=1e-9)
    assert r.sentence_when_different() == ""


def test_acescct_levels_as_printed() -> None:
    # S-2016-001 / colour-science: 0.18 encodes to 0.413588402492442; decode(0.5) = 0.514056913328 (OpenColorIO test).
    log = Signal.named("ACEScct")
    grey = patch(0.413588402492442, log, "grey")
    assert grey.scene.reflectance.median == pytest.approx(0.18, abs=1e-9)
    assert grey.scene.stops == pytest.approx(0.0, abs=1e-7)
    assert grey.luma.median == pytest.approx(41.3588402492442, abs=1e-9)
    half = patch(0.5, log, "half")
    assert half.scene.reflectance.median == pytest.approx(0.514056913328, abs=1e-9)
    assert half.scene.stops == pytest.approx(math.log2(0.514056913328 / 0.18), abs=1e-8)


def test_legal_range_percent() -> None:
    # BT.709-6 item 4.6: 10-bit black 64, white 940.
    legal = Signal.named("BT.1886", range="legal")
    assert patch(64 / 1023, legal, "black").luma.median == pytest.approx(0.0, abs=1e-9)
    assert patch(940 / 1023, legal, "white").luma.median == pytest.approx(100.0, abs=1e-9)
    white = patch(940 / 1023, legal, "white").display
    assert white is not None and white.relative.median == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize(
    ("name", "weights"),
    # BT.709-6 item 3.2 and BT.2020-2 table 4; ACEScg: Y row of AP1 to XYZ, reference CTL (README-MATRIX).
    [
        ("BT.1886", (0.2126, 0.7152, 0.0722)),
        ("HLG", (0.2627, 0.6780, 0.0593)),
        ("ACEScct", (0.2722287168, 0.6740817658, 0.0536895174)),
    ],
)
def test_luma_weights_as_printed(name: str, weights: tuple[float, float, float]) -> None:
    signal = Signal.named(name)
    for i in range(3):
        colour = np.zeros((1, 1, 3))
        colour[..., i] = 0.5
        assert level(colour, signal).luma.mean == pytest.approx(50.0 * weights[i], abs=1e-7)
