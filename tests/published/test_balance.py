"""Mired and Duv of the `balance` step against filter tables, and the locus against colour-science."""

import numpy as np
import pytest

from lookwright.colour.balance import WHITE_KELVIN, balance_matrix, shifted_white
from lookwright.colour.spaces.planckian import locus_normal, locus_uv, mired, uv_to_xy, xy_to_uv
from lookwright.colour.spaces.primaries import ACES_WHITE, primaries

# Printed conversion filters (tables of mired shifts): from, to, printed shift. Positive = warmer (lower kelvin).
FILTERS = [("85B", 5500, 3200, 131), ("80A", 3200, 5500, -131)]


@pytest.mark.parametrize(("name", "source", "target", "printed"), FILTERS)
def test_mired_shift_of_conversion_filters(name: str, source: float, target: float, printed: float) -> None:
    np.testing.assert_allclose(mired(target) - mired(source), printed, rtol=0, atol=0.5)


def test_mired_arithmetic() -> None:
    np.testing.assert_allclose(mired(5600) - mired(3200), -133.929, rtol=0, atol=5e-4)
    # A trade-press column: full orange gel, +159: 7000 K becomes 3312.8 K (printed 3300, 20 K for its rounding).
    np.testing.assert_allclose(1e6 / (mired(7000) + 159), 3300, rtol=0, atol=20)


@pytest.mark.parametrize("kelvin", [1500, 2856, 3200, 4000, 5600, 6000, 8000, 12000, 15000])
def test_locus_against_colour_science(kelvin: float) -> None:
    # Krystek 1985, through colour-science's own copy of his formula; and Planck's law integrated with the CIE 1931
    # observer. His error is usually quoted as below 8e-5 in u and 9e-5 in v (from memory); against that
    # integration, whose second radiation constant is a later one, it was measured as 1.25e-4 and 1.08e-4.
    from lookwright.colour.spaces.library import colour_library

    colour = colour_library()
    expected = colour.temperature.CCT_to_uv_Planck1900(kelvin)
    np.testing.assert_allclose(locus_uv(kelvin), expected, rtol=0, atol=1.3e-4)
    krystek = colour.temperature.CCT_to_uv_Krystek1985(kelvin)
    np.testing.assert_allclose(locus_uv(kelvin), krystek, rtol=0, atol=1e-12)


@pytest.mark.parametrize(("kelvin", "xy"), [(3200, (0.423361, 0.398954)), (5600, (0.330199, 0.339081))])
def test_planckian_chromaticities(kelvin: float, xy: tuple[float, float]) -> None:
    # Planck and CIE 1931, six decimals, computed once; 3e-4 in xy is what 1.3e-4 in uv allows here.
    np.testing.assert_allclose(uv_to_xy(locus_uv(kelvin)), xy, rtol=0, atol=3e-4)


def test_chromaticity_diagram_of_1960() -> None:
    # CIE 1960: u = 4x / (-2x + 12y + 3), v = 6y / (-2x + 12y + 3); D65 is 0.19783 0.31221 (five decimals, computed
    # from the printed xy).
    np.testing.assert_allclose(xy_to_uv((0.3127, 0.3290)), (0.19783, 0.31221), rtol=0, atol=5e-6)
    np.testing.assert_allclose(uv_to_xy(xy_to_uv((0.3127, 0.3290))), (0.3127, 0.3290), rtol=0, atol=1e-15)


@pytest.mark.parametrize("shift", [-100.0, -30.0, 0.0, 60.0, 131.0, 200.0])
def test_shift_moves_the_white_by_that_many_mired(shift: float) -> None:
    # Correlated colour temperature and Duv by Ohno 2013 in colour-science. The reference's locus is not Krystek's:
    # measured 0.6 mired at 15000 K, 0.2 from there on, and 2.2e-4 in Duv.
    from lookwright.colour.spaces.library import colour_library

    colour = colour_library()

    def measured(xy: tuple[float, float]) -> np.ndarray:
        cct, duv = colour.temperature.uv_to_CCT_Ohno2013(xy_to_uv(xy))
        return np.array([1e6 / float(cct), float(duv)])

    got = measured(shifted_white(shift, 0.0)) - measured(ACES_WHITE)
    np.testing.assert_allclose(got[0], shift, rtol=0, atol=0.3 if shift > -100 else 0.7)
    np.testing.assert_allclose(got[1], 0.0, rtol=0, atol=2.5e-4)


@pytest.mark.parametrize("duv", [-0.03, -0.005, 0.005, 0.03])
def test_tint_moves_the_white_by_that_much_duv(duv: float) -> None:
    # Duv is measured by colour-science (Ohno 2013); + is toward green (ANSI C78.377). Measured to agree
    # within 1e-6: 2e-6.
    from lookwright.colour.spaces.library import colour_library

    colour = colour_library()

    def measured(xy: tuple[float, float]) -> float:
        return float(colour.temperature.uv_to_CCT_Ohno2013(xy_to_uv(xy))[1])

    got = measured(shifted_white(0.0, duv)) - measured(ACES_WHITE)
    np.testing.assert_allclose(got, duv, rtol=0, atol=2e-6)


def test_normal_points_to_green_and_is_square_to_the_locus() -> None:
    for kelvin in (1500.0, 3200.0, 6000.0, 15000.0):
        normal = locus_normal(kelvin)
        tangent = locus_uv(kelvin * 1.001) - locus_uv(kelvin * 0.999)
        assert normal[1] > 0
        assert abs(normal @ tangent) / np.linalg.norm(tangent) < 1e-2
        np.testing.assert_allclose(np.linalg.norm(normal), 1.0, rtol=1e-14, atol=0)


def test_white_temperature() -> None:
    # CCT of the ACES white: 6000.04 K (Ohno 2013, colour-science).
    assert WHITE_KELVIN == 6000.0


def test_matrix_takes_the_white_to_the_shifted_white() -> None:
    # Definition of a von Kries adaptation (CAT16): the old white becomes the new one, at the same luminance.
    to_xyz = primaries("ACEScg").to_xyz
    for shift, duv in ((50.0, 0.0), (-80.0, 0.01), (200.0, -0.03)):
        xyz = to_xyz @ balance_matrix(shift, duv) @ np.ones(3)
        np.testing.assert_allclose(xyz[:2] / xyz.sum(), shifted_white(shift, duv), rtol=0, atol=1e-12)
        np.testing.assert_allclose(xyz[1], 1.0, rtol=0, atol=1e-12)


def test_direction_in_words_of_light() -> None:
    # Warmer raises red against blue; a positive tint raises green against the other two.
    red, _, blue = balance_matrix(60.0, 0.0) @ np.ones(3)
    assert red > 1.0 > blue
    red, green, blue = balance_matrix(0.0, 0.01) @ np.ones(3)
    assert green > red and green > blue
    assert np.array_equal(balance_matrix(0.0, 0.0), np.eye(3))
