"""Shots in groups of one light, from pairs of which some err."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from lookwright.solve.series.groups import groups


def test_a_pair_that_errs_lets_nobody_in() -> None:
    """Four shots in one light and three in another; two pairs across say most strongly that they are alike."""
    lit = (0, 1, 0, 1, 0, 1, 0)
    against = {(i, j): 1.5 if lit[i] != lit[j] else -1.0 for i, j in combinations(range(7), 2)}
    against[0, 1] = against[2, 5] = -1.5
    found = groups(7, against)
    assert [found[n] == found[0] for n in range(7)] == [x == 0 for x in lit]


def test_noisy_pairs_are_outvoted_together() -> None:
    rng = np.random.default_rng(3)
    lit = rng.uniform(size=20) < 0.4
    against = {}
    for i, j in combinations(range(20), 2):
        if rng.uniform() < 0.6:
            value = (1.0 if lit[i] != lit[j] else -1.0) + rng.normal(0.0, 1.0)
            against[i, j] = float(np.clip(value, -1.5, 1.5))
    wrong = sum((value > 0) != bool(lit[i] != lit[j]) for (i, j), value in against.items())
    assert wrong >= 10, "single pairs err"
    found = groups(20, against)
    assert len(set(found)) == 2 and all((found[n] == found[0]) == (lit[n] == lit[0]) for n in range(20))


def test_what_nothing_joins_stands_alone() -> None:
    assert len(set(groups(4, {(0, 1): -0.5, (1, 2): 0.3}))) == 3
