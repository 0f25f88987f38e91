"""The flow of hues against SciPy's integrator of eighth order (DOP853: Hairer, Norsett & Wanner 1993)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from lookwright.arrays import Array
from lookwright.colour.spaces.hue_flow import STEEPEST, TURN, HueMap, bump


def two_poles(hue: Array) -> Array:
    """A pull of one part of the circle up and of another down, 25 and 40 degrees wide, 20 degrees strong."""
    up, down = bump(hue, np.radians(55.0), np.radians(25.0)), bump(hue, np.radians(230.0), np.radians(40.0))
    return np.radians(20.0) * (up - down)


def narrow(hue: Array) -> Array:
    """A band of 10 degrees, the narrowest that a step may have, turned by as much."""
    return np.radians(10.0) * bump(hue, np.radians(140.0), np.radians(10.0))


@pytest.mark.parametrize("velocity", [two_poles, narrow])
def test_hues_go_where_the_flow_takes_them(velocity: Callable[[Array], Array]) -> None:
    hue = np.random.default_rng(7).uniform(0.0, TURN, 400)
    far = solve_ivp(lambda _, y: velocity(y), (0.0, 1.0), hue, method="DOP853", rtol=1e-12, atol=1e-13).y[:, -1]
    assert np.abs(far - hue).max() > np.radians(6.0)
    # Read between nodes a quarter of a degree apart.
    np.testing.assert_allclose(HueMap(velocity)(hue), far, rtol=0.0, atol=1e-8)


def test_a_field_too_steep_is_followed_for_a_shorter_time() -> None:
    def steep(hue: Array) -> Array:
        return 8.0 * narrow(hue)

    nodes = np.arange(1440) * (TURN / 1440)
    time = STEEPEST / (np.abs(np.diff(steep(nodes), append=steep(nodes[:1]))).max() / (TURN / 1440))
    assert time < 1.0
    hue = np.random.default_rng(7).uniform(0.0, TURN, 400)
    far = solve_ivp(lambda _, y: steep(y), (0.0, time), hue, method="DOP853", rtol=1e-12, atol=1e-13).y[:, -1]
    mapped = HueMap(steep)(np.sort(hue))
    assert np.diff(mapped).min() > 0.0
    # Nodes lie farther apart than what such a field presses together; 24 steps of Runge-Kutta were 3e-5 away.
    np.testing.assert_allclose(HueMap(steep)(hue), far, rtol=0.0, atol=4e-6)
