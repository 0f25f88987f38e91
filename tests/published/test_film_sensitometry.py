"""Sensitometry arithmetic against standards and the trade's figures; the source stands beside each check."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.colour.film.dyes import DyeSet, spectral_density, spectral_transmittance
from lookwright.colour.film.layers import log_exposure
from lookwright.colour.film.model import curves
from lookwright.colour.film.parameters import SPANS, FilmParameters
from lookwright.colour.film.printing import POINT, base_light, points_per_stop, points_to_log10, print_log_exposure
from lookwright.colour.film.projection import blackbody
from lookwright.colour.film.sensitometry import STOP, Curve, density, transmittance

DYES = DyeSet(
    (655.0, 545.0, 450.0),
    (55.0, 40.0, 38.0),
    (75.0, 40.0, 38.0),
    ((1.0, 0.08, 0.05), (0.05, 1.0, 0.12), (0.02, 0.06, 1.0)),
)


def test_density_is_minus_log10_of_transmittance() -> None:
    # ISO 5-1: D = -log10 T. D 0.3 passes 0.501187; one stop of light is 0.30103.
    assert transmittance(0.3) == pytest.approx(0.501187, abs=5e-7)
    assert density(0.5) == pytest.approx(0.30103, abs=5e-6)
    assert density(0.5) == pytest.approx(STOP, abs=1e-15)
    d = np.linspace(0.0, 5.0, 101)
    assert np.abs(density(transmittance(d)) - d).max() < 1e-12
    assert np.isposinf(density(0.0))


def test_densities_add() -> None:
    # Beer-Lambert: layers of density 0.3, 0.5, 0.2 pass 0.1 of the light.
    assert transmittance(0.3) * transmittance(0.5) * transmittance(0.2) == pytest.approx(0.1, abs=1e-12)
    bands = DYES.bands(np.arange(380.0, 781.0))
    amounts = np.array([[0.3, 0.5, 0.2], [2.0, 0.1, 1.4], [0.0, 0.0, 0.0]])
    single = [spectral_transmittance(amounts * np.eye(3)[i], bands) for i in range(3)]
    together = spectral_transmittance(amounts, bands)
    assert np.abs(single[0] * single[1] * single[2] - together).max() < 1e-12
    assert np.abs(density(together) - spectral_density(amounts, bands)).max() < 1e-12


def test_dye_bands_peak_where_they_say() -> None:
    # Definition of the model: without side absorptions each band is 1 at its centre and
    # e^(-1/2) one standard deviation away, on either side.
    alone = DyeSet(DYES.centres, DYES.short, DYES.long, ((1, 0, 0), (0, 1, 0), (0, 0, 1)))
    for i in range(3):
        c, s, w = DYES.centres[i], DYES.short[i], DYES.long[i]
        got = alone.bands(np.array([c, c - s, c + w]))[i]
        assert got == pytest.approx([1.0, np.exp(-0.5), np.exp(-0.5)], abs=1e-12)


@pytest.mark.parametrize("gamma", [0.55, 0.6, 0.65, 2.5, 2.6, 3.0])
@pytest.mark.parametrize(("toe", "shoulder"), [(0.02, 0.02), (0.06, 0.05), (0.12, 0.1), (0.02, 0.22), (0.22, 0.02)])
def test_mid_scale_slope_is_gamma(gamma: float, toe: float, shoulder: float) -> None:
    # Gamma is the slope of the straight line: ISO 6:1993 and every textbook since Hurter and Driffield.
    # 0.6: 0.3 log E make 0.18 density, a camera maker's handbook on digital intermediate, ch. 2.
    curve = Curve(gamma, 2.8, foot=-2.0, toe=toe, shoulder=shoulder)
    x = curve.middle
    # Fourth-order central difference: the truncation is below 1e-9 for these bends.
    h = 1e-3 * curve.latitude
    fd = (8.0 * (curve(x + h) - curve(x - h)) - (curve(x + 2 * h) - curve(x - 2 * h))) / (12.0 * h)
    assert float(fd) == pytest.approx(gamma, abs=1e-6)
    assert float(curve.slope(x)) == pytest.approx(gamma, abs=1e-9)
    # ... and stays within a hundredth part over the middle fifth when the bends are narrow.
    if max(toe, shoulder) <= 0.06:
        around = x + np.linspace(-0.1, 0.1, 21) * curve.latitude
        assert np.abs(curve.slope(around) / gamma - 1.0).max() < 0.01


@pytest.mark.parametrize(("toe", "shoulder"), [(0.02, 0.22), (0.12, 0.1), (0.22, 0.02), (0.22, 0.22)])
def test_curve_never_turns_back(toe: float, shoulder: float) -> None:
    # Property of any characteristic curve below reversal; unequal bends are where two softplus
    # terms side by side would fail.
    curve = Curve(2.7, 3.8, toe=toe, shoulder=shoulder)
    d = curve(np.linspace(-8.0, 12.0, 4001))
    assert np.diff(d).min() > -1e-14
    assert d.min() > -1e-12
    assert d.max() < 3.8 + 1e-12
    x = np.linspace(0.0, 1.4, 8)
    h = 1e-5
    assert curve.slope(x) == pytest.approx((curve(x + h) - curve(x - h)) / (2 * h), abs=1e-7)
    for target in (0.05, 0.92, 2.0, 3.5):
        assert float(curve(curve.inverse(target))) == pytest.approx(target, abs=1e-12)


def test_default_curves_are_of_the_size_books_give() -> None:
    # Negative gamma 0.55-0.65 (SMPTE ST 2065-3's ADX line is 0.55; handbooks 0.6-0.65), print gamma
    # 2.5-3 and D_max 3.5-4 (textbooks, from memory); 0.6 x 2.5 = 1.5 end to end.
    p = FilmParameters()
    negative, positive = curves(p)
    assert 0.55 <= negative.gamma <= 0.65
    assert 2.5 <= positive.gamma <= 3.0
    assert 3.5 <= positive.span <= 4.0
    assert 1.4 <= negative.gamma * positive.gamma <= 1.8
    for name, span in SPANS.items():
        assert span.low <= span.soft[0] <= getattr(p, name) <= span.soft[1] <= span.high, name


def test_printer_points() -> None:
    # 0.025 log10 exposure a light = a factor 1.059254 (encyclopaedia article citing Case 2001).
    assert POINT == 0.025
    assert 10.0 ** points_to_log10(1.0) == pytest.approx(1.059254, abs=5e-7)
    # 12.041 lights are one stop of *printing* exposure; 12 lights are 1.99526.
    assert points_per_stop() == pytest.approx(12.041, abs=5e-4)
    assert 10.0 ** points_to_log10(12.0) == pytest.approx(1.99526, abs=5e-6)


@pytest.mark.parametrize(
    ("gamma", "points"), [(0.50, 6.021), (0.55, 6.623), (0.60, 7.225), (0.65, 7.827), (0.70, 8.429)]
)
def test_one_camera_stop_in_printer_points(gamma: float, points: float) -> None:
    # 0.30103 gamma / 0.025; the same article says "6 to 8, depending on gamma". "12 a stop at gamma 0.6" is
    # the figure for printing exposure, not for the camera.
    assert points_per_stop(gamma) == pytest.approx(points, abs=5e-4)
    # The same through the model: one stop more in the camera, that many points more in the printer,
    # and a mid-scale grey prints as before.
    negative = Curve(gamma, 2.9, foot=-2.5, toe=0.02, shoulder=0.02)
    positive = Curve(2.6, 3.8, toe=0.05, shoulder=0.05)
    x = negative.middle
    light = base_light(float(negative(x)), 1.0, positive)
    first = positive(print_log_exposure(negative(x), np.array(light)))
    second = positive(print_log_exposure(negative(x + STOP), np.array(light + points_to_log10(points))))
    assert float(first) == pytest.approx(1.0, abs=1e-12)
    # 5e-4 points of rounding in the table are 1.25e-5 log10 exposure, times gamma 2.6: 3.3e-5 density.
    assert float(second) == pytest.approx(1.0, abs=5e-5)


def test_log_exposure_is_the_logarithm_in_the_picture() -> None:
    # Definition; the floor (1e-4) adds floor^2 / E: at 18 % grey 3.1e-7 of the light.
    x = np.array([0.18, 1.0, 16.0])
    assert log_exposure(x) == pytest.approx(np.log10(x), abs=2e-7)
    ramp = log_exposure(np.linspace(-1.0, 1.0, 2001))
    assert np.diff(ramp).min() > 0.0


def test_blackbody_against_colour_science() -> None:
    # Planck's law as colour-science 0.4 evaluates it; ratios between wavelengths do not depend on the scale.
    # Its c2 is the rounded 1.4388e-2 of ITS-90, 1.6e-5 more than CODATA 2018; the exponent c2 / (lambda T) is at
    # most 12.6 here and 4.6 less at 560 nm, hence 1e-4.
    from lookwright.colour.spaces.library import colour_library

    colour = colour_library()
    nm = np.array([400.0, 450.0, 560.0, 650.0, 750.0])
    for kelvin in (2856.0, 5400.0, 6504.0):
        other = np.array([float(colour.colorimetry.planck_law(x * 1e-9, kelvin)) for x in nm])
        assert blackbody(nm, kelvin) == pytest.approx(other / other[2], rel=1e-4)
