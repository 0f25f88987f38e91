"""The ranges that steps may hold, against measured skin, sky and leaves."""

import colour
import numpy as np
import pytest

from lookwright.assess.measure.skin import skin_scene
from lookwright.colour.film.skins import lit, reflectances
from lookwright.colour.spaces.oklab import hue_and_saturation, scene_to_opponent
from lookwright.colour.spaces.primaries import ACES_WHITE, D65, adaptation, primaries
from lookwright.look.steps.holds import RANGES, left_free

SHAPE = colour.SpectralShape(380, 780, 5)
CHART = {n: sd.copy().align(SHAPE).values for n, sd in colour.SDS_COLOURCHECKERS["ISO 17321-1"].items()}
SAMPLES = np.asarray(colour.quality.cfi2017.load_TCS_CIE2017(SHAPE).values).T  # CIE 224:2017


def _scene(xyz: np.ndarray, white: tuple[float, float]) -> np.ndarray:
    """Scene light of XYZ seen by a camera balanced to ``white`` (xy)."""
    return np.asarray(xyz @ (np.linalg.inv(primaries("ACEScg").to_xyz) @ adaptation(white, ACES_WHITE)).T)


def _under_daylight(reflectance: np.ndarray) -> np.ndarray:
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(SHAPE).values
    power = colour.SDS_ILLUMINANTS["D65"].copy().align(SHAPE).values
    return _scene((reflectance * power) @ observer / (power @ observer[:, 1]), D65)


def _hues(scene: np.ndarray) -> np.ndarray:
    return np.degrees(hue_and_saturation(scene_to_opponent(scene))[0]) % 360.0


def skins() -> np.ndarray:
    """17 people of the NIST data set and four standard samples, under daylight and lamps, the camera balanced to it."""
    standard = skin_scene()
    people = [lit(reflectances(), light) for light in ("D65", "5600 K", "3200 K")]
    return _hues(np.concatenate([*people, standard["daylight"], standard["tungsten"]]))


def skies() -> np.ndarray:
    """CIE daylight (CIE 15) of clear skies, 7500 to 25000 K, balanced to 5600 K and to D65; the chart's blue sky."""
    found = [_hues(_under_daylight(CHART["blue sky"]))]
    for white in (D65, tuple(colour.temperature.CCT_to_xy_CIE_D(5600.0))):
        xy = np.array([colour.temperature.CCT_to_xy_CIE_D(k) for k in (7500.0, 10000.0, 15000.0, 25000.0)])
        found.append(_hues(_scene(colour.xy_to_XYZ(xy), white)))
    return np.hstack(found)


def leaves() -> np.ndarray:
    """The chart's two leaf greens, and yellow-green samples with the red edge of chlorophyll."""
    at = {nm: SAMPLES[:, (nm - 380) // 5] for nm in (675, 725)}
    hue = _hues(_under_daylight(SAMPLES))
    edge = (at[725] > 1.5 * at[675]) & (hue > 95.0) & (hue < 175.0)
    assert edge.sum() == 3
    return np.hstack([hue[edge], _hues(_under_daylight(np.array([CHART["foliage"], CHART["yellow green"]])))])


@pytest.mark.parametrize(("name", "measured"), [("skin", skins), ("sky", skies), ("leaves", leaves)])
def test_a_range_is_where_its_colours_were_measured(name: str, measured: object) -> None:
    held = RANGES[name]
    hue = measured()  # type: ignore[operator]
    # To the degree it is stated in.
    assert (hue.min(), hue.max()) == pytest.approx(held.measured, abs=0.5)
    # All of it is held by more than half, its middle by nearly all; nothing narrower than 24 degrees.
    assert held.width >= 24.0
    left = left_free(np.radians(hue), ((1.0, np.radians(held.hue), np.radians(held.width)),))
    assert left.max() < 0.4 and np.median(left) < 0.15


def test_ranges_leave_each_other_free() -> None:
    """A full hold on one kind takes less than 2 % of the effect on the middle of another."""
    for one in RANGES.values():
        for other in (r for r in RANGES.values() if r is not one):
            held = ((1.0, np.radians(one.hue), np.radians(one.width)),)
            assert left_free(np.array(np.radians(other.hue)), held) > 0.98
