"""The barrier against folds: which tetrahedra there are, when one is turned over, and what is done about it."""

from __future__ import annotations

from typing import Any

import numpy as np

from lookwright.lut.fit.folds import KEPT, FoldBarrier, base_of_cells, determinants, flat_volume
from lookwright.lut.lattices.interpolate import tetrahedral
from lookwright.lut.lattices.lattice import Lattice, grid

N = 5


def one_by_one(function: Any, parts: Any) -> list[Any]:
    return [function(p) for p in parts]


def test_determinants_are_those_of_the_lookup() -> None:
    """By difference quotients of the exact tetrahedral lookup, inside each of the six orders of the fractions."""
    values = np.random.default_rng(1).random((N**3, 3))
    lattice = Lattice(values.reshape(N, N, N, 3))
    found = determinants(values, N, base_of_cells(N))
    step = 1e-4
    orders = [(0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0)]
    for place, base in ((7, np.array([0, 1, 3])), (40, np.array([2, 2, 0]))):
        for kind, order in enumerate(orders):
            fraction = np.empty(3)
            fraction[list(order)] = 0.7, 0.5, 0.3
            points = (base + fraction + np.concatenate([np.zeros((1, 3)), step * np.eye(3)])) / (N - 1)
            out = tetrahedral(lattice, points)
            assert np.isclose(found[place, kind], np.linalg.det((out[1:] - out[0]) / step), rtol=1e-6, atol=1e-9)


def test_the_identity_is_upright() -> None:
    found = determinants(grid(N).reshape(-1, 3), N, base_of_cells(N))
    assert found.shape == ((N - 1) ** 3, 6) and np.allclose(found, (N - 1) ** -3, rtol=1e-12)


def test_layers_and_single_cells_give_the_same_determinants() -> None:
    """Bit for bit: a pass over a few cells must not judge them otherwise than the first, over all."""
    for n in (2, N, 18):
        values = np.random.default_rng(n).random((n**3, 3))
        barrier = FoldBarrier(values, n, one_by_one)
        planes = np.ascontiguousarray(values.T)
        cells = np.arange((n - 1) ** 3)
        every = determinants(values, n, base_of_cells(n))
        assert np.array_equal(barrier._everywhere(planes), every.T)
        assert np.array_equal(barrier._at(planes, cells[::3]), every[::3].T)


def test_a_fold_is_mended_and_the_rest_left_alone() -> None:
    plain = grid(N).reshape(-1, 3)
    barrier = FoldBarrier(plain, N, one_by_one)
    displacement = np.zeros_like(plain)
    middle, corner = 2 * N * N + 2 * N + 2, 0
    displacement[middle] = 1.3 / (N - 1), 0.0, 0.0  # beyond its neighbour
    displacement[corner] = 0.01, 0.01, 0.0
    held = barrier.held(displacement, lambda d, places: plain[places] + d)
    found = determinants(plain + held, N, base_of_cells(N))
    assert (determinants(plain + displacement, N, base_of_cells(N)) < 0.0).any()
    assert found.min() >= KEPT * (N - 1) ** -3 * 0.999
    assert np.array_equal(held[corner], displacement[corner])
    assert 0.0 < held[middle, 0] < displacement[middle, 0]


def test_flat_parts_stay_flat_and_turned_ones_do_not_stop_it() -> None:
    """As where a look clips: one side of the cube pressed onto a plane, and one channel running backward."""
    plain = grid(N).reshape(-1, 3).copy()
    plain[:, 2] = np.maximum(plain[:, 2], 0.6)
    backward = grid(N).reshape(-1, 3) * [-1.0, 1.0, 1.0]
    noise = np.random.default_rng(5).normal(0.0, 0.05, plain.shape)
    for values in (plain, backward):
        barrier = FoldBarrier(values, N, one_by_one)

        def written(d: np.ndarray, places: Any, values: np.ndarray = values) -> np.ndarray:
            return np.where(d == 0.0, values[places], np.round(values[places] + d, 5))

        held = barrier.held(noise, written)
        before = determinants(np.round(values, 6), N, base_of_cells(N))
        after = determinants(np.round(values + held, 6), N, base_of_cells(N))
        flat = flat_volume(N)
        assert not ((after < -flat) & (before >= -flat)).any()
    assert np.array_equal(held, noise), "nothing upright, so nothing to protect"
