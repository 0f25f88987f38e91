"""The parts of ``learn``: a smooth fit, chosen by what was left out, on a lattice without folds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.solve.learn.bins import binned
from lookwright.solve.learn.lattice import on_lattice
from lookwright.solve.learn.residual import learn_residual
from lookwright.solve.learn.smoothing import chosen, fitted
from lookwright.solve.learn.spline import Fit
from lookwright.solve.learn.unfold import ROOM, folds, unfolded


def colours(count: int, seed: int = 1) -> np.ndarray:
    """Round a grey ramp, as pictures are."""
    rng = np.random.default_rng(seed)
    return np.clip(rng.uniform(0.05, 0.9, (count, 1)) + rng.normal(0, 0.07, (count, 3)), 0, 1)


def bent(x: np.ndarray) -> np.ndarray:
    """A smooth displacement of up to 7 % of signal."""
    return 0.05 * np.sin(3.0 * x[:, [1, 2, 0]] + x) * np.array([1.0, -0.6, 0.8])


@pytest.mark.parametrize(("power", "kernel"), [(3, "cubic"), (1, "linear")])
def test_the_spline_is_that_of_scipy(power: int, kernel: str) -> None:
    """On its own knots, all but without smoothing, with an affine part (``degree=1``)."""
    knots = colours(150)
    made = Fit(knots, np.ones(150), knots, power).solve(bent(knots), 1e-16)
    theirs = RBFInterpolator(knots, bent(knots), kernel=kernel, degree=1)
    new = colours(400, 2)
    assert np.abs(made(new) - theirs(new)).max() < 2e-5


def test_smoothing_follows_the_noise() -> None:
    """Cross-validation smooths more where frames are noisy, and comes nearer to the truth than no smoothing."""
    x, still = colours(2400), np.repeat([0, 1], 1200)
    clean = binned(x, x + bent(x), still)
    noisy = binned(x, x + bent(x) + np.random.default_rng(3).normal(0, 0.02, x.shape), still)
    ways = chosen(clean), chosen(noisy)
    assert ways[1].smoothing >= 10 * ways[0].smoothing
    new = colours(2000, 5)

    def error(way: object) -> float:
        return float(np.abs(fitted(noisy, way)(new) - bent(new)).mean())  # type: ignore[arg-type]

    assert error(ways[1]) < 0.6 * error(ways[0])
    assert np.abs(fitted(clean, ways[0])(new) - bent(new)).mean() < 3e-4


def test_a_lattice_errs_less_than_a_sampled_one() -> None:
    """Between its points, by either lookup, at the colours seen."""

    def wave(x: np.ndarray) -> np.ndarray:
        return 0.02 * np.sin(40.0 * x[:, [1, 2, 0]])

    seen, size = colours(8000), 33
    plain = wave(grid(size).reshape(-1, 3)).reshape(size, size, size, 3)
    fit = on_lattice(wave, seen)
    for how in ("trilinear", "tetrahedral"):
        errors = [np.abs(lookup(Lattice(t), seen, how) - wave(seen)).mean() for t in (plain, fit)]  # type: ignore[arg-type]
        assert errors[1] < 0.6 * errors[0]


def test_a_fold_is_mended_by_the_least_change() -> None:
    """One point pushed 1.6 cells along: moved back by little and its neighbours with it, far points not at all."""
    table = grid(33).copy()
    table[20, 20, 20] += 0.05
    assert folds(table) == 6
    mended = unfolded(table)
    assert folds(np.round(mended, 6), 0.9 * ROOM) == 0
    moved = np.linalg.norm(mended - table, axis=-1)
    # Taking the point back alone, along its way, to where it folds nothing, moves it further.
    alone = next(t for t in np.linspace(0.35, 0.65, 31) if folds(_with(grid(33), 0.05 * (1 - t)), ROOM) == 0)
    assert np.sqrt((moved**2).sum()) < 0.9 * alone * 0.05 * np.sqrt(3)
    assert (moved > 0).sum() <= 15 and moved[:19].max() == 0.0


def _with(table: np.ndarray, push: float) -> np.ndarray:
    out = table.copy()
    out[20, 20, 20] += push
    return out


def test_a_large_fold_is_mended_too() -> None:
    x = grid(17)
    near = np.exp(-((x - 0.4) ** 2).sum(-1) / 0.02)
    table = x.copy()
    table[..., 0] -= 0.2 * near * np.sin((x[..., 0] - 0.4) * 30)
    assert folds(table) > 50
    assert folds(np.round(unfolded(table), 6), 0.9 * ROOM) == 0


def test_what_is_whole_stays() -> None:
    table = grid(17) + 0.01 * np.sin(5 * grid(17)[..., [1, 2, 0]])
    assert folds(table, ROOM) == 0 and np.array_equal(unfolded(table), table)


def test_no_fold_is_learnt() -> None:
    """From frames in which neighbouring colours change places, so that what they teach folds."""
    x = np.random.default_rng(6).uniform(0.3, 0.5, (6_000, 3))
    near = np.exp(-((x - 0.4) ** 2).sum(axis=1) / 0.004)
    learnt = learn_residual(x, x + np.outer(near * np.sin((x[:, 0] - 0.4) * 50.0), [-0.045, 0.0, 0.0]))
    assert learnt.mended > 5
    assert folds(learnt.lattice.table) == 0
