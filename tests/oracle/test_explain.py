"""``recover`` on LUTs that OpenColorIO and colour-science made (all fifty: tests/benchmarks/explain_table.py)."""

from __future__ import annotations

import numpy as np
import pytest
from foreign_luts import Foreign, fifty

from lookwright.colour.spaces.signal import Signal
from lookwright.solve.explain.explain import GOOD, explain
from lookwright.solve.explain.ways import MOST

LUTS = {lut.name: lut for lut in fifty()}


def found(lut: Foreign) -> object:
    return explain(lut.table, Signal.named(lut.source), Signal.named(lut.output), lut.name)


def test_there_are_fifty() -> None:
    assert len(LUTS) == 50


@pytest.mark.parametrize("name", ["CDL 5", "lift, gamma, gain 1", "exposure 1", "matrix 2"])
def test_what_a_recipe_can_say_is_found(name: str) -> None:
    """To a mean of .05: these are within our steps, other words though they were made with."""
    lut = LUTS[name]
    made = found(lut)
    assert made.mean < 0.05 and made.numbers <= MOST and made.plain > 1.0  # type: ignore[attr-defined]


def test_the_shortest_is_taken() -> None:
    """One number for a change of exposure, none for a conversion."""
    assert found(LUTS["exposure 1"]).numbers == 1  # type: ignore[attr-defined]
    assert found(LUTS["S-Log3 to ACEScct"]).numbers == 0  # type: ignore[attr-defined]


def test_what_no_short_recipe_says_is_told() -> None:
    """Noise in the table: nothing explains it, and the figure says so."""
    rng = np.random.default_rng(2)
    table = rng.uniform(0.3, 0.7, (64, 3))
    lut = Foreign("noise", lambda x: table[(x * 3.999).astype(int) @ [1, 4, 16]], "ACEScct", "ACEScct")
    assert found(lut).mean > 5 * GOOD  # type: ignore[attr-defined]
