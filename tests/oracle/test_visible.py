"""Thresholds of the eye against colour-science's own, and PQ and ITP against printed values."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from lookwright.assess.measure.visible import contrast_sensitivity, itp, least_step, pq, steps_seen


@pytest.mark.parametrize("luminance", [0.05, 1.0, 10.0, 100.0, 1000.0])
@pytest.mark.parametrize("frequency", [0.5, 2.0, 4.0, 12.0])
def test_sensitivity_is_bartens(luminance: float, frequency: float) -> None:
    """Barten 1999 as colour-science 0.4.7 has it, fed the same pupil, optics and illuminance for a field of 40 deg."""
    module = colour.contrast
    pupil = module.pupil_diameter_Barten1999(luminance, 40.0)
    wanted = module.contrast_sensitivity_function_Barten1999(
        u=frequency,
        sigma=module.sigma_Barten1999(0.5 / 60.0, 0.08 / 60.0, pupil),
        X_0=40.0,
        E=module.retinal_illuminance_Barten1999(luminance, pupil, True),
        k=3.0,
        T=0.1,
        X_max=12.0,
        N_max=15.0,
        n=0.03,
        p=1.2274e6,
        phi_0=3e-8,
        u_0=7.0,
    )
    got = contrast_sensitivity(np.array(frequency), np.array(luminance))
    assert float(got) == pytest.approx(float(wanted), rel=1e-6)


@pytest.mark.parametrize("luminance", [1.0, 10.0, 100.0, 1000.0])
def test_least_step_is_what_pq_was_made_for(luminance: float) -> None:
    """12 bits of PQ were chosen to stay about Barten's threshold (Miller, Nezamabadi and Daly 2013): a code of it is
    between two thirds of the least step and one and a half."""
    code = 1.0 / 4095.0
    at = float(pq(np.array(luminance)))
    nits = np.interp([at, at + code], pq(np.geomspace(0.1, 5000.0, 20_000)), np.geomspace(0.1, 5000.0, 20_000))
    step = nits[1] / nits[0] - 1.0
    assert 0.67 < step / float(least_step(np.array(luminance))) < 1.5


def test_pq_is_st_2084() -> None:
    """Check table 2: 100 cd/m2 at 0.508078422, 1000 at 0.751827096."""
    np.testing.assert_allclose(pq(np.array([100.0, 1000.0])), [0.508078422, 0.751827096], atol=1e-8)


def test_itp_agrees_with_the_library() -> None:
    """Delta-E ITP (BT.2124) between two colours."""
    a, b = np.array([20.0, 30.0, 10.0]), np.array([22.0, 29.0, 11.0])
    wanted = colour.difference.delta_E_ITP(colour.RGB_to_ICtCp(a, L_p=10000), colour.RGB_to_ICtCp(b, L_p=10000))
    assert np.linalg.norm(itp(a) - itp(b)) == pytest.approx(float(wanted), rel=1e-4)


def test_a_step_of_light_counts_by_the_threshold() -> None:
    """At 50 cd/m2 a grey step of so many thresholds is so many; a step of colour alone counts too."""
    grey = np.array([[50.0, 50.0, 50.0]])
    up = grey * (1.0 + 3.0 * float(least_step(np.array(50.0))))
    assert float(steps_seen(grey, up)[0]) == pytest.approx(3.0, rel=0.03)
    tinted = grey + np.array([[2.0, -0.775, 0.0]])  # luminance kept
    assert float(steps_seen(grey, tinted)[0]) > 2.0
