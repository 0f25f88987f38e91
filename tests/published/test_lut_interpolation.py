"""Interpolation against hand-calculable points of a single cell.

Source: Common LUT Format specification v3.0 (Academy/ASC S-2014-006), appendix A, equations; the numbers
were worked from them (with the two corrections named in ``lookwright.lut.lattices.interpolate``) independently of
this package: by a numpy script, OpenColorIO 2.6 and colour-science 0.4.7, which agreed to 1e-7.
"""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice

CORNERS = {
    (0, 0, 0): (0.1, 0.0, 0.0),
    (1, 0, 0): (0.5, 0.9, 0.1),
    (0, 1, 0): (0.3, 0.2, 0.8),
    (0, 0, 1): (0.2, 0.1, 0.6),
    (1, 1, 0): (0.9, 0.7, 0.2),
    (1, 0, 1): (0.6, 0.8, 0.3),
    (0, 1, 1): (0.4, 0.3, 1.0),
    (1, 1, 1): (1.0, 1.0, 0.9),
}
# point, trilinear, tetrahedral; the last three have two fractions equal, where a choice of tetrahedron by
# strict ">" goes wrong.
POINTS = [
    ((0.75, 0.5, 0.25), (0.6, 0.65, 0.321875), (0.625, 0.65, 0.3)),
    ((0.25, 0.5, 0.75), (0.4, 0.35, 0.646875), (0.425, 0.35, 0.625)),
    ((0.5, 0.5, 0.5), (0.5, 0.5, 0.4875), (0.55, 0.5, 0.45)),
    ((0.5, 0.5, 0.0), (0.45, 0.45, 0.275), (0.5, 0.35, 0.1)),
    ((0.5, 0.0, 0.5), (0.35, 0.45, 0.25), (0.35, 0.4, 0.15)),
    ((0.6, 0.2, 0.6), (0.464, 0.5488, 0.3688), (0.48, 0.52, 0.3)),
    ((0.3, 0.6, 0.6), (0.436, 0.3852, 0.6252), (0.46, 0.39, 0.57)),
]


@pytest.fixture(scope="module")
def cell() -> Lattice:
    table = np.empty((2, 2, 2, 3))
    for index, value in CORNERS.items():
        table[index] = value
    return Lattice(table)


@pytest.mark.parametrize(("point", "trilinear", "tetrahedral"), POINTS)
def test_points_of_one_cell(cell, point, trilinear, tetrahedral):
    # The expected numbers are exact decimals: only double rounding is allowed.
    np.testing.assert_allclose(lookup(cell, point, "trilinear"), trilinear, rtol=0, atol=1e-14)
    np.testing.assert_allclose(lookup(cell, point, "tetrahedral"), tetrahedral, rtol=0, atol=1e-14)


@pytest.mark.parametrize(("point", "trilinear", "tetrahedral"), POINTS)
def test_points_of_one_cell_in_the_fast_path(cell, point, trilinear, tetrahedral):
    # 32-bit arithmetic: a few units in the last place of values below 1.
    np.testing.assert_allclose(Applier(cell, "trilinear")(point), trilinear, rtol=0, atol=3e-7)
    np.testing.assert_allclose(Applier(cell, "tetrahedral")(point), tetrahedral, rtol=0, atol=3e-7)


def test_corners_come_back(cell):
    for index, value in CORNERS.items():
        for interpolation in ("trilinear", "tetrahedral"):
            np.testing.assert_allclose(lookup(cell, index, interpolation), value, rtol=0, atol=1e-15)


def test_neutral_axis_of_tetrahedral_depends_on_two_corners_only(cell):
    # Appendix A: with all fractions equal the walk telescopes to V000 + t (V111 - V000).
    t = np.linspace(0, 1, 11)[:, None]
    black, white = np.array(CORNERS[0, 0, 0]), np.array(CORNERS[1, 1, 1])
    got = lookup(cell, np.repeat(t, 3, axis=1), "tetrahedral")
    np.testing.assert_allclose(got, black + t * (white - black), rtol=0, atol=1e-15)
