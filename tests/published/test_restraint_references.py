"""What the measures of restraint take from outside: surface colours, and the arithmetic behind limits."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from lookwright.assess.restraint.limits import BY_NAME
from lookwright.assess.restraint.scene import surfaces
from lookwright.colour.spaces.primaries import ACES_WHITE, D65, adaptation, primaries, xy_to_xyz
from lookwright.look.steps.render import Render

TO_XYZ = primaries("ACEScg").to_xyz


def test_pointer_colours_are_pointers() -> None:
    """Back through CAT02 to illuminant C, CIELAB of C: the printed L* C* h (Pointer 1980, from colour-science).

    The way back is the library's own; 576 colours, largest C* 115 at h 80, L* 75 (check table 6).
    """
    c = np.array([0.31006, 0.31615])  # illuminant C as printed with the data
    xyz = surfaces()["pointer"] @ TO_XYZ.T
    back = colour.adaptation.chromatic_adaptation_VonKries(
        xyz, xy_to_xyz(ACES_WHITE), xy_to_xyz((float(c[0]), float(c[1]))), transform="CAT02"
    )
    lab = colour.XYZ_to_Lab(back, c)
    lch = np.stack([lab[:, 0], np.hypot(lab[:, 1], lab[:, 2]), np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360], -1)
    wanted = np.asarray(colour.models.DATA_POINTER_GAMUT_VOLUME, float)
    assert wanted.shape == (576, 3)
    # The library's white of C has six digits, the printed one five: 1e-5 of xy is under 0.02 of C*.
    np.testing.assert_allclose(lch[:, :2], wanted[:, :2], rtol=0, atol=0.02)
    coloured = wanted[:, 1] >= 5
    turned = (lch[coloured, 2] - wanted[coloured, 2] + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(turned, 0.0, rtol=0, atol=0.2)
    top = int(np.argmax(lch[:, 1]))
    assert tuple(wanted[top]) == (75.0, 115.0, 80.0)


def test_chart_is_the_chart() -> None:
    """CIELAB D65 of the chart's own spectra through the library's integration (ISO 17321-1 spectra, 24 patches)."""
    xyz = surfaces()["chart"] @ TO_XYZ.T @ adaptation(ACES_WHITE, D65).T
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    d65 = colour.SDS_ILLUMINANTS["D65"].copy().align(cmfs.shape)
    spectra = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    aligned = [sd.copy().align(cmfs.shape) for sd in spectra.values()]
    wanted = np.array([colour.sd_to_XYZ(sd, cmfs, d65, method="Integration") for sd in aligned]) / 100.0
    # 5 nm sums against the library's 1 nm: 4e-4 of reflectance.
    np.testing.assert_allclose(xyz, wanted, rtol=0, atol=1e-3)


def test_evaluation_samples_are_the_samples() -> None:
    """XYZ of sample 15 (index 14) under D65, computed with colour-science at 1 nm (check table 5.2, tolerance 1e-3)."""
    xyz = surfaces()["samples"][14] @ TO_XYZ.T @ adaptation(ACES_WHITE, D65).T
    np.testing.assert_allclose(xyz, (0.38554, 0.36708, 0.28751), rtol=0, atol=1e-3)
    assert surfaces()["samples"].shape == (99, 3)


def test_the_ends_of_the_scale_are_arithmetic() -> None:
    """0.18 to 0.02 is -3.169925 stops and 0.18 to 1.0 is 2.473931 (check table 9): limits to two decimals."""
    assert BY_NAME["black_point"].fail == pytest.approx(np.log2(0.02 / 0.18), abs=5e-3)
    assert BY_NAME["white_point"].fail == pytest.approx(np.log2(1.0 / 0.18), abs=5e-3)


@pytest.mark.parametrize(
    ("measure", "level", "stops"),
    [("skin_level", 52.0, 0.5), ("grey_level", 45.0, 0.5)],
    ids=["a lit face near 52 %", "middle grey and half a stop over it"],
)
def test_levels_in_stops_are_arithmetic(measure: str, level: float, stops: float) -> None:
    """The watching limit in percent of signal is the stated fraction of a stop on the plain curve, within a tenth."""
    curve = Render().curve()
    light = [float(curve.inverse(np.array((p / 100.0) ** 2.4))) for p in (level, level + BY_NAME[measure].watch)]
    assert np.log2(light[1] / light[0]) == pytest.approx(stops, abs=0.1)
