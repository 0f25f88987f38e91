"""The small solver of the series against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares, rosen

from lookwright.solve.series.difference import HIGH, LOW, Difference
from lookwright.solve.series.match import SCALE, log2_light
from lookwright.solve.series.solve import solve


def problem(seed: int) -> tuple[np.ndarray, np.ndarray, Difference]:
    rng = np.random.default_rng(seed)
    anchor = rng.uniform(0.005, 1.2, (12, 1)) * rng.uniform(0.6, 1.4, (12, 3))
    truth = Difference(rng.uniform(-1, 1), rng.uniform(-80, 80), rng.uniform(-0.006, 0.006), rng.uniform(0, 0.004))
    return anchor, truth.apply(anchor) * rng.normal(1.0, 0.02, (12, 3)), truth


@pytest.mark.parametrize("seed", range(6))
def test_least_squares_of_a_match(seed: int) -> None:
    anchor, still, truth = problem(seed)

    def residual(values: np.ndarray) -> np.ndarray:
        return (log2_light(Difference.of(values).undo(still)) - log2_light(anchor)).ravel()

    ours, jacobian = solve(residual, np.zeros(4), LOW, HIGH, SCALE)
    theirs = least_squares(residual, np.zeros(4), bounds=(LOW, HIGH), x_scale=SCALE, xtol=1e-12, ftol=1e-14, gtol=1e-12)
    assert residual(ours) @ residual(ours) <= 2.0 * theirs.cost * (1.0 + 1e-9)
    # Parameters to a thousandth of a meaningful change: both end where the cost no longer falls.
    np.testing.assert_allclose(ours / SCALE, theirs.x / SCALE, rtol=0, atol=1e-3)
    most = np.abs(theirs.jac * SCALE).max()
    np.testing.assert_allclose(jacobian * SCALE, theirs.jac * SCALE, rtol=0, atol=1e-3 * most)
    assert abs(ours[0] - truth.stops) < 0.1, "and that is near the truth, with 2 % noise on 12 marks"


def test_bounds_hold() -> None:
    """The least of (x - 3)^2 + (y + x)^2 under x <= 1 is x = 1, y = -1: the other is still free."""

    def residual(v: np.ndarray) -> np.ndarray:
        return np.array([v[0] - 3.0, v[1] + v[0]])

    low, high = np.full(2, -2.0), np.full(2, 1.0)
    found, _ = solve(residual, np.zeros(2), low, high, np.ones(2))
    np.testing.assert_allclose(found, [1.0, -1.0], rtol=0, atol=1e-6)
    theirs = least_squares(residual, np.zeros(2), bounds=(low, high))
    np.testing.assert_allclose(found, theirs.x, rtol=0, atol=1e-4)


def test_a_parameter_without_room_stays() -> None:
    low, high = np.array([-1.0, 0.5]), np.array([1.0, 0.5])
    found, _ = solve(lambda v: v - np.array([0.25, 0.0]), np.array([0.9, 0.9]), low, high, np.ones(2))
    np.testing.assert_allclose(found, [0.25, 0.5], rtol=0, atol=1e-6)


def test_a_curved_valley() -> None:
    """Rosenbrock's function (scipy's own copy gives the cost): its least is 0 at (1, 1)."""

    def residual(v: np.ndarray) -> np.ndarray:
        return np.array([10.0 * (v[1] - v[0] ** 2), 1.0 - v[0]])

    found, _ = solve(residual, np.array([-1.2, 1.0]), np.full(2, -5.0), np.full(2, 5.0), np.ones(2), rounds=200)
    np.testing.assert_allclose(found, 1.0, rtol=0, atol=1e-5)
    assert rosen(found) < 1e-9
