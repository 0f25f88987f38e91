"""Display curves against their standards.

BT.1886 annex 1; IEC 61966-2-1; SMPTE ST 428-1; BT.2100-3 tables 4 and 5; BT.2408-9 table 1 (as a public study
note quotes it). Code values of the curves were evaluated once from the printed constants in float64 with
colour-science 0.4.7; tests/oracle has OpenColorIO as the second reference.
"""

import numpy as np
import pytest

from lookwright.colour.spaces.encodings import CURATED, HLG_PEAK_NITS, REFERENCE_WHITE_NITS, encoding


def _grey(values: list[float]) -> np.ndarray:
    return np.array(values)[:, None] * np.ones(3)


def test_bt1886_with_black_at_zero() -> None:
    # BT.1886 annex 1 with L_B = 0 is a pure power of 2.4; twelve decimals.
    light = encoding("BT.1886").decode(_grey([0.0, 0.25, 0.5, 0.75, 1.0]))[:, 1]
    expected = [0.0, 0.035896823594, 0.189464570814, 0.501356941303, 1.0]
    np.testing.assert_allclose(light, expected, rtol=0, atol=5e-13)


@pytest.mark.parametrize("name", ["sRGB", "Display P3"])
def test_srgb_curve(name: str) -> None:
    # IEC 61966-2-1: 12.92, 1.055, 0.055, 2.4; breaks 0.0031308 and 0.04045.
    curve = encoding(name)
    codes = curve.encode(_grey([0.0031308, 0.18, 0.5]))[:, 0]
    np.testing.assert_allclose(codes, [0.040449936, 0.461356129500, 0.735356983052], rtol=0, atol=5e-10)
    # The code 0.04045 itself belongs to the straight part (colour-science takes the power there: 2e-9 more).
    light = curve.decode(_grey([0.04045, 0.5]))[:, 0]
    np.testing.assert_allclose(light, [0.04045 / 12.92, 0.214041140482], rtol=0, atol=5e-13)


def test_cinema_exponent() -> None:
    # ST 428-1: X' = (L / 52.37)^(1/2.6); a white of 48 cd/m2 is 0.967042675, code 3960 of 12 bits.
    code = encoding("P3-D65 2.6").encode(_grey([48 / 52.37]))[0, 0]
    np.testing.assert_allclose(code, 0.967042675, rtol=0, atol=5e-10)
    assert round(code * 4095) == 3960


# cd/m2 and PQ code: BT.2100-3 table 4 with the constants of ST 2084 (m1 2610/16384, m2 2523/32, c1 3424/4096,
# c2 2413/128, c3 2392/128).
PQ = [
    (0.0, 7.3096e-7),
    (0.1, 0.062336866),
    (1.0, 0.149945732),
    (10.0, 0.299699092),
    (100.0, 0.508078422),
    (203.0, 0.580688881),
    (1000.0, 0.751827096),
    (4000.0, 0.902572393),
    (10000.0, 1.0),
]


@pytest.mark.parametrize(("nits", "code"), PQ)
def test_pq_code_of_luminance(nits: float, code: float) -> None:
    got = encoding("BT.2100 PQ").encode(_grey([nits / REFERENCE_WHITE_NITS]))[0, 0]
    np.testing.assert_allclose(got, code, rtol=0, atol=1e-8)


@pytest.mark.parametrize(("code", "nits"), [(0.25, 5.154176010), (0.5, 92.245708994), (0.75, 983.377855588)])
def test_pq_luminance_of_code(code: float, nits: float) -> None:
    got = encoding("BT.2100 PQ").decode(_grey([code]))[0, 0] * REFERENCE_WHITE_NITS
    np.testing.assert_allclose(got, nits, rtol=1e-9, atol=0)


# HLG code and cd/m2 on the 1000 cd/m2 display of BT.2100-3 table 5 (gamma 1.2, black 0); relative 1e-5, since the
# rounded constants a, b, c of that table leave the curve 5e-9 short of 1 at its end.
HLG = [(0.38, 26.238265737), (0.5, 50.697028491), (0.75, 203.152145938), (1.0, 1000.0)]


@pytest.mark.parametrize(("code", "nits"), HLG)
def test_hlg_luminance_of_code_and_back(code: float, nits: float) -> None:
    curve = encoding("BT.2100 HLG")
    np.testing.assert_allclose(curve.decode(_grey([code])) * REFERENCE_WHITE_NITS, nits, rtol=1e-5, atol=0)
    np.testing.assert_allclose(curve.encode(_grey([nits / REFERENCE_WHITE_NITS])), code, rtol=0, atol=1e-6)


def test_hlg_blue_stops_at_signal_1() -> None:
    # BT.2100-3 table 5: at signal (0, 0, 1) the display shows 1000 Y^0.2 of blue, Y = 0.0593, 568 cd/m2: more blue
    # than that has no code, and must not leave the range.
    curve = encoding("BT.2100 HLG")
    most = curve.decode(np.array([[0.0, 0.0, 1.0]]))[0, 2] * REFERENCE_WHITE_NITS
    np.testing.assert_allclose(most, 1000 * 0.0593**0.2, rtol=1e-3, atol=0)
    np.testing.assert_allclose(curve.encode(np.array([[0.0, 0.0, 4.9]])), [[0.0, 0.0, 1.0]], rtol=0, atol=1e-12)


# BT.2408-9 table 1: level in cd/m2, per cent PQ, per cent HLG; half of the last printed per cent.
BT2408 = [
    ("grey card 18 %", 26, 38, 38),
    ("chart maximum 83 %", 162, 56, 71),
    ("chart maximum 90 %", 179, 57, 73),
    ("reference white", 203, 58, 75),
]


@pytest.mark.parametrize("row", BT2408, ids=lambda r: r[0])
def test_reference_levels_of_bt2408(row: tuple[str, int, int, int]) -> None:
    _, nits, pq, hlg = row
    light = _grey([nits / REFERENCE_WHITE_NITS])
    np.testing.assert_allclose(encoding("BT.2100 PQ").encode(light) * 100, pq, rtol=0, atol=0.5)
    np.testing.assert_allclose(encoding("BT.2100 HLG").encode(light) * 100, hlg, rtol=0, atol=0.5)


def test_reference_white_is_one() -> None:
    # BT.2408: reference white 203 cd/m2; in this program display light is relative to it.
    assert REFERENCE_WHITE_NITS == 203.0
    np.testing.assert_allclose(encoding("BT.2100 PQ").encode(_grey([1.0])), 0.580688881, rtol=0, atol=1e-8)
    np.testing.assert_allclose(CURATED["BT.2100 PQ"].peak * 203, 10000, rtol=1e-14, atol=0)
    np.testing.assert_allclose(CURATED["BT.2100 HLG"].peak * 203, HLG_PEAK_NITS, rtol=1e-14, atol=0)


def test_every_curated_display_encoding_is_checked_here() -> None:
    checked = {"BT.1886", "sRGB", "Display P3", "P3-D65 2.6", "BT.2100 PQ", "BT.2100 HLG"}
    assert {name for name, e in CURATED.items() if e.kind == "display"} <= checked


@pytest.mark.parametrize("name", ["BT.1886", "sRGB", "Display P3", "P3-D65 2.6"])
def test_below_black_and_above_white_stay_open(name: str) -> None:
    # Common practice, no source: extended by oddness and by the same power, so that sources keep super-whites.
    curve = encoding(name)
    x = _grey([-0.1, 1.2])
    np.testing.assert_allclose(curve.encode(curve.decode(x)), x, rtol=1e-14, atol=0)
    np.testing.assert_allclose(curve.decode(-x), -curve.decode(x), rtol=1e-14, atol=0)
