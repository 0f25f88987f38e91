"""The curve before a lattice: rising, invertible, and worth having where a look bends in one place."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.colour.spaces.signal import Signal
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.fit.refine import refine, report
from lookwright.lut.fit.shaper import (
    ShapedLattice,
    behind,
    fit_shaper,
    refine_shaped,
    report_shaped,
    shaped_prior,
    unshaped,
)
from lookwright.lut.lattices.interpolate import linear

LAB = lab_of(Signal.named("BT.1886"))


def bent(signal: np.ndarray) -> np.ndarray:
    """Flat but for a steep rise between 0.3 and 0.5, as log signals have under a picture's light."""
    return 0.05 + 0.9 / (1.0 + np.exp(-30.0 * (signal - 0.4)))


def test_points_gather_where_the_look_bends() -> None:
    curve = fit_shaper(bent, to_lab=LAB)
    table = curve.table
    assert table.shape == (1024, 3) and (table[:, :1] == table).all()
    assert table[0, 0] == 0.0 and table[-1, 0] == 1.0
    rate = np.diff(table[:, 0]) * 1023
    assert rate.min() >= 0.2, "no part of the signal is left without points"
    at = (np.arange(1023) + 0.5) / 1023
    assert rate[(at > 0.25) & (at < 0.55)].mean() > 1.5 * rate[at > 0.7].mean()


def test_natural_colours_draw_points_to_themselves_and_pixels_a_little() -> None:
    def even(signal: np.ndarray) -> np.ndarray:
        return 0.1 + 0.8 * signal**2

    def dark_prior(points: np.ndarray) -> np.ndarray:
        return ((points > 0.1) & (points < 0.25)).all(axis=1) + 1e-6

    dark = np.random.default_rng(1).uniform(0.1, 0.25, (4000, 3))
    curves = fit_shaper(even, None, LAB), fit_shaper(even, dark, LAB), fit_shaper(even, None, LAB, prior=dark_prior)
    plain, hint, natural = (linear(c, np.full(3, 0.25))[0] - linear(c, np.full(3, 0.1))[0] for c in curves)
    assert natural > 1.5 * plain
    assert 1.1 * plain < hint < natural


def test_a_straight_look_gets_a_straight_curve() -> None:
    flat = fit_shaper(lambda s: np.full_like(s, 0.5), to_lab=LAB)
    assert np.allclose(flat.table[:, 0], np.linspace(0.0, 1.0, 1024), rtol=0, atol=1e-6)


def test_the_inverse_is_exact() -> None:
    curve = fit_shaper(bent, to_lab=LAB)
    x = np.random.default_rng(2).random((500, 3))
    assert np.allclose(unshaped(curve, linear(curve, x)), x, rtol=0, atol=1e-12)
    inner = behind(curve, bent)
    assert np.allclose(inner(linear(curve, x)), bent(x), rtol=0, atol=1e-11)


def test_shaped_lattice_errs_less_and_other_software_agrees() -> None:
    """Judged in input signal; the two parts together also through OpenColorIO."""
    import PyOpenColorIO as ocio

    from lookwright.lut.lattices.apply import ocio_transform

    lut, done = refine_shaped(bent, 9, to_lab=LAB)
    assert isinstance(lut, ShapedLattice)
    cube = np.random.default_rng(4).random((10_000, 3))
    even = report(bent, refine(bent, 9, to_lab=LAB).lattice, None, cube, LAB)["cube"]
    shaped = report_shaped(bent, lut, None, cube, LAB)["cube"]
    assert shaped.trilinear.mean < 0.7 * even.trilinear.mean
    assert shaped.tetrahedral.mean < 0.7 * even.tetrahedral.mean
    assert done.worst <= done.bound

    group = ocio.GroupTransform([ocio_transform(lut.shaper), ocio_transform(lut.lattice, "tetrahedral")])
    cpu = ocio.Config.CreateRaw().getProcessor(group).getDefaultCPUProcessor()
    pixels = cube[:2000].astype(np.float32)
    found = pixels.copy()
    cpu.applyRGB(found)
    # 32-bit arithmetic through a steep curve: 1e-5 of signal is a hundredth of a 10-bit code.
    assert found == pytest.approx(lut(pixels.astype(np.float64)), abs=1e-5)


def test_colours_count_alike_behind_the_curve() -> None:
    """Where the curve spreads colours out they are fewer to a volume; a mean over them stays the same."""
    curve = fit_shaper(bent, to_lab=LAB)

    def prior(points: np.ndarray) -> np.ndarray:
        return np.exp(-4.0 * points.sum(axis=-1))

    signal = np.random.default_rng(3).random((400_000, 3))
    inside = shaped_prior(curve, prior)(signal)
    shaped_mean = (inside[:, None] * unshaped(curve, signal)).sum(axis=0) / inside.sum()
    plain = prior(signal)
    assert shaped_mean == pytest.approx((plain[:, None] * signal).sum(axis=0) / plain.sum(), rel=0.03)


def test_the_curve_too_is_fitted_without_what_the_report_is_made_of() -> None:
    rng = np.random.default_rng(8)
    stills = rng.uniform(0.1, 0.6, (3, 1000, 3))
    other = stills.copy()
    other[:, 2::5] = rng.uniform(0.7, 0.9, (3, 200, 3))
    other[2] = rng.uniform(0.7, 0.9, (1000, 3))
    one, two = (refine_shaped(bent, 5, s, to_lab=LAB)[0] for s in (stills, other))
    assert np.array_equal(one.shaper.table, two.shaper.table)
    assert np.array_equal(one.lattice.table, two.lattice.table)
    reports = [report_shaped(bent, one, s, to_lab=LAB) for s in (stills, other)]
    assert reports[0]["stills"] != reports[1]["stills"] and reports[0]["left_out"] != reports[1]["left_out"]
    assert reports[0]["stills"].samples == 400 and reports[0]["left_out"].samples == 1000
