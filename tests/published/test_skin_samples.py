"""Measured skin under lights, against the values tabulated for it."""

import colour
import numpy as np
import pytest

from lookwright.assess.measure.skin import (
    LIGHTS,
    SKIN_SAMPLES,
    balance_white,
    read_skin,
    skin_scene,
    skin_xyz,
)
from lookwright.colour.difference import xyz_to_lab
from lookwright.colour.spaces.signal import Signal

# Colour evaluation samples 15 and 18 (CIE 224:2017) under D65, 2 degree observer: XYZ, hue and chroma of CIELAB.
# Computed with colour-science at 1 nm (check table 5.2, tolerance 1e-3); ours are 5 nm sums.
SAMPLES = {
    "skin sample 15": ((0.38554, 0.36708, 0.28751), 50.87, 19.21),
    "skin sample 18": ((0.21486, 0.20274, 0.12749), 61.09, 22.46),
}


@pytest.mark.parametrize("sample", SAMPLES)
def test_evaluation_samples_under_daylight(sample: str) -> None:
    xyz, hue, chroma = SAMPLES[sample]
    got = skin_xyz(sample, "daylight")
    np.testing.assert_allclose(got, xyz, rtol=0, atol=1e-3)
    lab = xyz_to_lab(got, np.array([0.95045592705167, 1.0, 1.08905775075988]))
    assert np.degrees(np.arctan2(lab[2], lab[1])) == pytest.approx(hue, abs=0.3)
    assert np.hypot(lab[1], lab[2]) == pytest.approx(chroma, abs=0.15)


@pytest.mark.parametrize(
    ("patch", "aces"),
    # SMPTE ST 2065-1:2021 table of the 24-patch chart, as printed in OpenColorIO's FixedFunctionOpCPU_tests.cpp.
    [("dark skin", (0.11877, 0.08709, 0.05895)), ("light skin", (0.40002, 0.31916, 0.23736))],
)
def test_chart_patches_against_the_standard_table(patch: str, aces: tuple[float, float, float]) -> None:
    # The table is for illuminant D60 and a reference device that scales light and adds flare so that a perfect
    # diffuser reads 0.97784 and 18 % grey 0.18: undo that (a straight line), and compare under our daylight, D65
    # balanced to the ACES white. D65 against D60 moves these skins by less than 2 %.
    gain = (0.97784 - 0.18) / (1.0 - 0.18)
    flare = 0.97784 - gain
    expected = (np.array(aces) - flare) / gain
    to_ap0 = colour.matrix_RGB_to_RGB(colour.RGB_COLOURSPACES["ACEScg"], colour.RGB_COLOURSPACES["ACES2065-1"], None)
    got = to_ap0 @ skin_scene((patch,), ("daylight",))["daylight"][0]
    np.testing.assert_allclose(got, expected, rtol=0.02)


def test_a_perfect_white_is_neutral_where_the_camera_is_balanced_to_the_light() -> None:
    # Whites by colour-science: D65 of CIE 15 (0.3127, 0.3290 to half a digit), Planck 3200 K (0.423361, 0.398954).
    assert balance_white("daylight") == pytest.approx((0.3127, 0.3290), abs=1e-4)
    assert balance_white("tungsten") == pytest.approx((0.423361, 0.398954), abs=3e-4)
    # CIE daylight locus, CIE 15: the balance of mixed light lies between the two.
    x, _ = balance_white("mixed, warm side")
    assert 0.3127 < x < 0.4234


def test_mixed_light_moves_skin_both_ways() -> None:
    scene = skin_scene()
    assert tuple(scene) == LIGHTS and all(v.shape == (len(SKIN_SAMPLES), 3) for v in scene.values())
    warmth = {k: (v[:, 0] / v[:, 2]).mean() for k, v in scene.items()}
    assert warmth["mixed, warm side"] > warmth["daylight"] > warmth["mixed, cool side"]
    for values in scene.values():
        assert (values > 0).all() and (values < 1).all()


def test_reading_published_skin_is_inside_the_windows() -> None:
    # Inner-forearm means, CIELAB D65/2 degrees (Xiao et al. 2017), shown on a display whose white is L* 100; and the
    # preferred facial skin of Chen et al. 2013 (L* 65, C* 25.4, h 50.5).
    hue = np.radians(50.5)
    published = [
        (63.0, 5.6, 14.0),
        (60.9, 7.0, 15.0),
        (60.6, 6.5, 16.4),
        (61.9, 7.1, 17.4),
        (65.0, 25.4 * np.cos(hue), 25.4 * np.sin(hue)),
    ]
    display = Signal.named("BT.1886")
    for lab in published:
        xyz = colour.Lab_to_XYZ(lab, [0.3127, 0.3290])
        code = (np.linalg.inv(display.primaries.to_xyz) @ xyz) ** (1 / 2.4)
        reading = read_skin(np.full((3, 3, 3), code), display)
        np.testing.assert_allclose(reading.lab, lab, rtol=0, atol=1e-6)
        assert reading.within, reading.sentence


def test_reading_wrong_skin_says_which_way() -> None:
    display = Signal.named("BT.1886")

    def shown(lightness: float, chroma: float, hue: float):
        a, b = chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))
        xyz = colour.Lab_to_XYZ([lightness, a, b], [0.3127, 0.3290])
        return read_skin(np.full((2, 2, 3), (np.linalg.inv(display.primaries.to_xyz) @ xyz) ** (1 / 2.4)), display)

    assert "redder" in shown(60, 20, 20).sentence
    assert "yellower or greener" in shown(60, 20, 95).sentence
    assert "of higher chroma" in shown(60, 45, 55).sentence
    assert "paler" in shown(60, 4, 55).sentence
    assert shown(60, 20, 52).within
