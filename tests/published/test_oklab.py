"""Oklab against its author's table, and the refined matrices' grey axis.

Ottosson 2020, "A perceptual color space for image processing", table of test pairs; CSS Color Module Level 4,
sample code, for the refined matrices.
"""

import numpy as np
import pytest

from lookwright.colour.spaces import oklab
from lookwright.colour.spaces.primaries import matrix, primaries

# The author's table: XYZ, and L a b printed to three decimals.
PRINTED_PAIRS = [
    ((0.950, 1.000, 1.089), (1.000, 0.000, 0.000)),
    ((1.0, 0.0, 0.0), (0.450, 1.236, -0.019)),
    ((0.0, 1.0, 0.0), (0.922, -0.671, 0.263)),
    ((0.0, 0.0, 1.0), (0.153, -1.415, -0.449)),
]

# The published digits (CSS Color 4). The code closes the rows (colour/spaces/oklab.py): they move by 1e-9 at most.
PRINTED_M1 = """0.8190224379967030 0.3619062600528904 -0.1288737815209879
0.0329836539323885 0.9292868615863434 0.0361446663506424
0.0481771893596242 0.2642395317527308 0.6335478284694309"""
PRINTED_M2 = """0.2104542683093140 0.7936177747023054 -0.0040720430116193
1.9779985324311684 -2.4285922420485799 0.4505937096174110
0.0259040424655478 0.7827717124575296 -0.8086757549230774"""

# BT.709 red, green and blue in L, C, h (refined matrices), computed; 1e-5 covers the five printed decimals of L, C.
BT709 = [
    ((1, 0, 0), (0.627955, 0.257683, 29.2339)),
    ((0, 1, 0), (0.866440, 0.294827, 142.4953)),
    ((0, 0, 1), (0.452014, 0.313214, 264.0520)),
]


def _table(text: str) -> np.ndarray:
    return np.array([float(n) for n in text.split()]).reshape(3, 3)


def _lab_of_xyz(xyz: tuple[float, float, float]) -> np.ndarray:
    return oklab.LMS_TO_LAB @ np.cbrt(oklab.XYZ_TO_LMS @ np.array(xyz))


@pytest.mark.parametrize(("xyz", "lab"), PRINTED_PAIRS)
def test_the_authors_pairs(xyz: tuple[float, float, float], lab: tuple[float, float, float]) -> None:
    np.testing.assert_allclose(_lab_of_xyz(xyz), lab, rtol=0, atol=0.5e-3)


def test_matrices_are_the_refined_pair() -> None:
    assert np.array_equal(oklab.XYZ_TO_LMS, _table(PRINTED_M1))
    np.testing.assert_allclose(oklab.LMS_TO_LAB, _table(PRINTED_M2), rtol=0, atol=1e-9)


@pytest.mark.parametrize(("rgb", "lch"), BT709)
def test_bt709_primaries(rgb: tuple[int, int, int], lch: tuple[float, float, float]) -> None:
    light = matrix("BT.709", "BT.2020") @ np.array(rgb, float)
    lightness, a, b = oklab.light_to_oklab(light)
    np.testing.assert_allclose((lightness, np.hypot(a, b)), lch[:2], rtol=0, atol=1e-5)
    np.testing.assert_allclose(np.degrees(np.arctan2(b, a)) % 360, lch[2], rtol=0, atol=1e-3)


def test_matrix_from_bt709_as_its_author_prints_it() -> None:
    # Ottosson's later text (2021-01) gives ten decimals for linear sRGB to cone responses; they were derived from
    # other white digits, so only 1e-6 of them can be expected of BT.709's own xy.
    expected = _table(
        "0.4122214708 0.5363325363 0.0514459929 0.2119034982 0.6806995451 0.1073969566 "
        "0.0883024619 0.2817188376 0.6299787005"
    )
    np.testing.assert_allclose(oklab.lms_matrix("BT.709"), expected, rtol=0, atol=1e-6)


@pytest.mark.parametrize("name", ["ACEScg", "BT.2020", "BT.709"])
def test_grey_axis(name: str) -> None:
    # Neutrals must carry no chroma: with the first published matrices D65 white has 1.25e-4.
    grey = np.array([1e-4, 0.01, 0.18, 1.0, 8.0])[:, None] * np.ones(3)
    lab = oklab.light_to_oklab(grey, oklab.lms_matrix(name))
    np.testing.assert_allclose(lab[:, 1:], 0.0, rtol=0, atol=1e-14)
    np.testing.assert_allclose(lab[:, 0], np.cbrt(grey[:, 0]), rtol=1e-14, atol=0)


def test_grey_axis_with_the_printed_digits_alone() -> None:
    # Without the closing of rows: 1e-7, from the refined matrices as printed.
    white = primaries("BT.709").to_xyz @ np.ones(3)
    lab = _table(PRINTED_M2) @ np.cbrt(_table(PRINTED_M1) @ white)
    np.testing.assert_allclose(lab, [1.0, 0.0, 0.0], rtol=0, atol=1e-7)
