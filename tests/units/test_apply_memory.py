"""A picture that somebody holds is never written over; the memory of one that was dropped is taken again."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.lattice import sample


@pytest.fixture
def half() -> Applier:
    return Applier(sample(lambda signal: signal / 2, 2), threads=2)


def picture(value: float) -> np.ndarray:
    return np.full((60, 80, 3), value, np.float32)


def test_what_is_held_stays(half: Applier) -> None:
    first = half(picture(0.5))
    second = half(picture(1.0))
    assert not np.shares_memory(first, second)
    assert first[0, 0, 0] == 0.25 and second[0, 0, 0] == 0.5


@pytest.mark.parametrize("view", [lambda a: a[10:20, :, 1], lambda a: a.reshape(-1, 3).T, lambda a: memoryview(a)])
def test_what_is_looked_into_stays(half: Applier, view) -> None:
    part = view(half(picture(0.5)))
    half(picture(1.0))
    assert np.asarray(part).max() == 0.25


def test_what_was_dropped_is_taken_again(half: Applier) -> None:
    place = half(picture(0.5)).ctypes.data
    again = half(picture(1.0))
    assert again.ctypes.data == place and again.min() == again.max() == 0.5
    del again
    other = half(np.full((60, 81, 3), 1.0, np.float32))
    assert other.shape == (60, 81, 3)


def test_a_kept_array_is_the_callers(half: Applier) -> None:
    own = np.empty((60, 80, 3), np.float32)
    assert half(picture(0.5), out=own) is own
    half(picture(1.0))
    assert own.max() == 0.25


def test_threads_sharing_one_never_share_memory(half: Applier) -> None:
    def many(start: int) -> bool:
        good = True
        for k in range(50):
            value = (start + 8 * k) / 512
            made = half(picture(value))
            good &= bool(np.allclose(made, value / 2, atol=1e-6) and made.max() == made.min())
        return good

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(many, range(8)))
