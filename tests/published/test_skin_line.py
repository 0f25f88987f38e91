"""The skin line's angle, the axes it is drawn on, and where measured skin lies beside it.

Sources: 47 CFR 73.682(a)(20) and SMPTE 170M (digits from memory, arithmetic checked by two ways that must agree);
chart angles computed with colour-science from the published chart values (check table, skin).
"""

import colour
import numpy as np
import pytest

from lookwright.assess.measure.scopes import colour_differences
from lookwright.assess.measure.skin_line import (
    SKIN_LINE_DEG,
    difference_angle_deg,
    i_axis_deg,
    i_axis_on_differences_deg,
)
from lookwright.colour.spaces.signal import Signal


def test_carrier_and_matrix_forms_agree() -> None:
    assert SKIN_LINE_DEG == 33.0 + 90.0
    assert i_axis_deg() == pytest.approx(122.996, abs=5e-4)
    assert i_axis_deg() == pytest.approx(SKIN_LINE_DEG, abs=0.005)


@pytest.mark.parametrize(
    ("kr", "kb", "expected"),
    [(0.299, 0.114, 132.49), (0.2126, 0.0722, 134.49), (0.2627, 0.0593, 132.22)],  # BT.601, BT.709, BT.2020
)
def test_the_same_direction_on_unweighted_differences(kr: float, kb: float, expected: float) -> None:
    assert i_axis_on_differences_deg(kr, kb) == pytest.approx(expected, abs=5e-3)


def test_red_primary_on_the_weighted_axes() -> None:
    # "104 degrees" in one article; 103.456 computed with BT.601 coefficients and U, V scaling.
    u, v = 0.492111 * (0.0 - 0.299), 0.877283 * (1.0 - 0.299)
    assert np.degrees(np.arctan2(v, u)) == pytest.approx(103.456, abs=2e-3)
    # On Cb, Cr the same red lies at 108.7: the plot says which axes it has.
    assert difference_angle_deg(1.0, 0.0, 0.0, 0.299, 0.114) == pytest.approx(108.648, abs=5e-3)


@pytest.mark.parametrize(
    ("chart", "patch", "expected"),
    [
        ("ColorChecker24 - After November 2014", "dark skin", 120.7),
        ("ColorChecker24 - After November 2014", "light skin", 117.7),
        ("ColorChecker 2005", "dark skin", 120.7),
        ("ColorChecker 2005", "light skin", 119.5),
    ],
)
def test_where_measured_skin_lies(chart: str, patch: str, expected: float) -> None:
    data = colour.CCS_COLOURCHECKERS[chart]
    xyz = colour.xyY_to_XYZ(data.data[patch])
    white = colour.xy_to_XYZ(data.illuminant)
    d65 = colour.xy_to_XYZ([0.3127, 0.3290])
    adapted = colour.adaptation.chromatic_adaptation_VonKries(xyz, white, d65, transform="CAT02")
    linear = np.linalg.inv(colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ) @ adapted
    code = linear ** (1 / 2.4)
    assert difference_angle_deg(*code) == pytest.approx(expected, abs=0.1)
    assert abs(difference_angle_deg(*code) - SKIN_LINE_DEG) < 6.0


def test_differences_against_the_library() -> None:
    # colour-science's RGB to Y'CbCr with BT.709 and BT.2020 weights (oracle; BT.709-6 item 3.3).
    rgb = np.random.default_rng(2).random((50, 3))
    for name, key in (("BT.1886", "ITU-R BT.709"), ("HLG", "ITU-R BT.2020")):
        cb, cr, _ = colour_differences(rgb, Signal.named(name))
        expected = colour.RGB_to_YCbCr(rgb, colour.WEIGHTS_YCBCR[key], out_range=(0, 1, -0.5, 0.5))
        np.testing.assert_allclose(cb, expected[:, 1], rtol=0, atol=1e-12)
        np.testing.assert_allclose(cr, expected[:, 2], rtol=0, atol=1e-12)
