"""Jacobian measures against functions whose derivatives are known in closed form, to 1e-6."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.assess.restraint.folds import determinants, hue_rate
from lookwright.assess.restraint.jacobian import determinant, gain, jacobian, regular, relative

POINTS = np.random.default_rng(7).uniform(0.1, 0.9, (50, 3))
LOOSE = np.array([[1.2, 0.3, -0.1], [0.05, 0.8, 0.2], [-0.3, 0.1, 1.5]])


def rotation(degrees: float) -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


@pytest.mark.parametrize("scale", [(2.0, 2.0, 2.0), (0.5, 1.0, 3.0), (1.0, 0.0, 1.0), (-1.0, 1.0, 1.0)])
def test_scaling(scale: tuple[float, float, float]) -> None:
    """Determinant = product, largest singular value = largest size, of the three factors."""
    made = jacobian(lambda x: x * np.array(scale), POINTS)
    np.testing.assert_allclose(made, np.broadcast_to(np.diag(scale), made.shape), rtol=0, atol=1e-6)
    np.testing.assert_allclose(determinant(made), np.prod(scale), rtol=0, atol=1e-6)
    np.testing.assert_allclose(gain(made), np.abs(scale).max(), rtol=0, atol=1e-6)


@pytest.mark.parametrize("degrees", [0.0, 17.0, 90.0, 180.0])
def test_rotation(degrees: float) -> None:
    """A rotation keeps volume and magnifies nothing in any direction."""
    made = jacobian(lambda x: x @ rotation(degrees).T, POINTS)
    np.testing.assert_allclose(determinant(made), 1.0, rtol=0, atol=1e-6)
    values = np.linalg.svd(made, compute_uv=False)
    np.testing.assert_allclose(values, 1.0, rtol=0, atol=1e-6)


def test_indices_are_out_then_in() -> None:
    np.testing.assert_allclose(jacobian(lambda x: x @ LOOSE.T, POINTS[0]), LOOSE, rtol=0, atol=1e-9)


@pytest.mark.parametrize("exponent", [1 / 2.4, 1 / 1.2, 2.0])
def test_power_at_known_points(exponent: float) -> None:
    """d/dx x^p = p x^(p-1). From 0.2 up the error of the central difference is below 1e-6 for these powers."""
    at = np.linspace(0.2, 0.9, 15)
    made = jacobian(lambda x: x**exponent, np.stack([at] * 3, -1))
    np.testing.assert_allclose(gain(made), exponent * at ** (exponent - 1.0), rtol=0, atol=1e-6)


def test_relative_map_does_not_depend_on_the_input_space() -> None:
    """Plain x -> A x, graded x -> B A x: the map between is B, also when both are seen through a curve."""
    first = np.array([[0.9, 0.1, 0.0], [0.2, 0.7, 0.1], [0.0, 0.1, 0.8]])

    def plain(x: np.ndarray) -> np.ndarray:
        return np.sqrt(x) @ first.T

    made = relative(jacobian(lambda x: plain(x) @ LOOSE.T, POINTS), jacobian(plain, POINTS))
    np.testing.assert_allclose(made, np.broadcast_to(LOOSE, made.shape), rtol=0, atol=1e-9)


def test_regular_finds_what_is_flat() -> None:
    flat = jacobian(lambda x: np.stack([x[:, 0], x[:, 1], np.zeros(len(x))], -1), POINTS)
    assert not regular(flat).any()
    assert regular(jacobian(lambda x: x, POINTS)).all()


def cubic(x: np.ndarray) -> np.ndarray:
    """u^3 - 0.03 u in the first channel about 0.5: derivative 3 u^2 - 0.03, below zero exactly for |u| < 0.1."""
    u = x[:, 0] - 0.5
    return np.stack([u**3 - 0.03 * u, x[:, 1], x[:, 2]], -1)


def test_a_known_fold_is_found_at_its_place() -> None:
    at = np.linspace(0.2, 0.8, 601)
    points = np.stack([at, np.full_like(at, 0.4), np.full_like(at, 0.6)], -1)
    values = determinant(jacobian(cubic, points))
    # Central differences of a cubic err by the step squared: 2.4e-7.
    np.testing.assert_allclose(values, 3.0 * (at - 0.5) ** 2 - 0.03, rtol=0, atol=1e-6)
    inside = np.abs(at - 0.5) < 0.1 - 1e-4
    assert (values[inside] < 0).all() and (values[np.abs(at - 0.5) > 0.1 + 1e-4] > 0).all()
    found = determinants(cubic, lambda x: x, points)
    assert found.min() == pytest.approx(-0.03, abs=1e-6)
    assert at[found.argmin()] == pytest.approx(0.5, abs=1e-9)


def test_points_where_the_plain_picture_is_flat_do_not_count() -> None:
    assert np.isnan(determinants(lambda x: -x, lambda x: np.zeros_like(x), POINTS)).all()
    np.testing.assert_allclose(determinants(lambda x: -x, lambda x: x, POINTS), -1.0, rtol=0, atol=1e-9)


@pytest.mark.parametrize("size", [0.5, 1.5])
def test_hue_rate_on_a_known_map(size: float) -> None:
    """h -> h + A sin h has the mean slope 1 + A cos(middle) sinc over a step; it runs backwards where that is < 0."""
    count = 180
    hue = np.arange(count) * 2.0 * np.pi / count
    half = np.pi / count
    after = hue + size * np.sin(hue)

    def circle(h: np.ndarray) -> np.ndarray:
        return np.stack([np.full_like(h, 0.5), 0.1 * np.cos(h), 0.1 * np.sin(h)], -1)

    rate, usable = hue_rate(circle(hue), circle(after))
    wanted = 1.0 + size * np.cos(hue + half) * np.sin(half) / half
    assert usable.all()
    np.testing.assert_allclose(rate, wanted, rtol=0, atol=1e-6)
    assert (rate.min() < 0) == (size > 1)
    assert np.degrees(hue[int(np.argmin(rate))]) == pytest.approx(180.0, abs=2.1)


def test_near_neutral_hues_are_not_trusted() -> None:
    hue = np.arange(36) * 2.0 * np.pi / 36
    grey = np.stack([np.full_like(hue, 0.5), 0.001 * np.cos(hue), 0.001 * np.sin(hue)], -1)
    assert not hue_rate(grey, grey)[1].any()
