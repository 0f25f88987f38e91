"""The error certificate: known lattices against known looks."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.colour.difference import ciede2000
from lookwright.lut.fit.fidelity import fidelity
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice, sample

SAMPLES = np.random.default_rng(4).random((40_000, 3))


def to_lab(signal):
    """Signal taken as L*, a*, b* directly, so that the expected differences can be reckoned here."""
    return signal * [100.0, 60.0, 60.0]


def curved(signal):
    return signal**2


def test_a_straight_look_has_no_error():
    report = fidelity(lambda s: 0.8 * s + 0.1, sample(lambda s: 0.8 * s + 0.1, 5), SAMPLES, to_lab)
    assert report.samples == 40_000
    # Double rounding; CIEDE2000 takes a square root of a sum of squares, so 1e-14 stays about 1e-12.
    assert max(report.trilinear.max, report.tetrahedral.max) < 1e-9


def test_the_figures_are_those_of_the_differences():
    lattice = sample(curved, 9)
    report = fidelity(curved, lattice, SAMPLES, to_lab)
    for name in ("trilinear", "tetrahedral"):
        every = ciede2000(to_lab(curved(SAMPLES)), to_lab(lookup(lattice, SAMPLES, name)))
        got = getattr(report, name)
        assert got.mean == pytest.approx(every.mean()) and got.max == pytest.approx(every.max())
        assert got.p95 == pytest.approx(np.percentile(every, 95))
        assert got.p99 == pytest.approx(np.percentile(every, 99))
        assert 0 < got.mean < got.p95 < got.p99 < got.max


def test_lightness_error_of_a_parabola():
    """On the grey axis only L* errs: x^2 by chords of width h errs h^2/4 in mid-cell and h^2/6 on average."""
    t = (np.arange(4000) + 0.5) / 4000
    grey = np.repeat(t[:, None], 3, axis=1)
    # L* near 50 counts fully in CIEDE2000 (S_L = 1 at L* = 50): stay within a unit of it.
    report = fidelity(curved, sample(curved, 5), grey, lambda s: [50.0, 0.0, 0.0] + s * [1.0, 0.0, 0.0])
    h = 1 / 4
    assert report.tetrahedral.max == pytest.approx(h**2 / 4, rel=0.02)
    # S_L grows by 1.5 % towards L* 51, hence the 2 %.
    assert report.tetrahedral.mean == pytest.approx(h**2 / 6, rel=0.02)


def test_error_goes_with_the_square_of_the_spacing():
    """Piecewise linear error goes with the square of the spacing: twice the cells, a quarter of the error."""
    coarse = fidelity(curved, sample(curved, 9), SAMPLES, to_lab)
    fine = fidelity(curved, sample(curved, 17), SAMPLES, to_lab)
    assert fine.tetrahedral.mean / coarse.tetrahedral.mean == pytest.approx(0.25, rel=0.1)
    assert fine.trilinear.mean / coarse.trilinear.mean == pytest.approx(0.25, rel=0.1)


def test_a_wrong_lattice_shows():
    good = sample(curved, 17)
    swapped = Lattice(good.table[..., ::-1])
    assert fidelity(curved, swapped, SAMPLES, to_lab).tetrahedral.mean > 10 * (
        fidelity(curved, good, SAMPLES, to_lab).tetrahedral.mean
    )


def test_no_samples():
    with pytest.raises(ValueError, match="no samples"):
        fidelity(curved, sample(curved, 5), np.zeros((0, 3)), to_lab)
