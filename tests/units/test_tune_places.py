"""What the solver is told of restraint is what the check measures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lookwright.assess.restraint.banding import banding
from lookwright.assess.restraint.check import MEASUREMENTS
from lookwright.assess.restraint.folds import folds
from lookwright.assess.restraint.limits import MEASURES
from lookwright.assess.restraint.skin import skin
from lookwright.look.recipe.read import read_look
from lookwright.solve.tune.barrier import ALWAYS, MOST, Barrier, _fewer
from lookwright.solve.tune.free import free_parameters
from lookwright.solve.tune.model import Model

LOOKS = Path(__file__).parents[2] / "looks"


@pytest.mark.parametrize("name", ["night-workshop", "everyday-daylight", "overcast"])
@pytest.mark.parametrize("seed", [0, 1])
def test_the_worst_place_is_the_measure(name: str, seed: int) -> None:
    look = read_look(LOOKS / f"{name}.toml")
    free = free_parameters(look)
    rng = np.random.default_rng(seed)
    z = 0.5 * np.array([rng.uniform(*f.bounds_z()) for f in free])
    barrier = Barrier(look)
    barrier.join(MEASUREMENTS)
    model = Model(look, free, np.full((1, 3), 0.4))
    model.move(z)
    function = model.function()
    assert set(barrier.watched) == set(MEASUREMENTS)
    for measurement, harm in zip(barrier.watched, [barrier.of(function, w) for w in barrier.watched], strict=True):
        measured = barrier.harm(function, [measurement])
        assert max(0.0, harm.max()) == pytest.approx(max(measured.values()), abs=1e-12), measurement.__name__
    everything = barrier.all_harm(function)
    assert set(everything) == {m.name for m in MEASURES if not m.name.startswith("still_")}


def test_a_look_is_seen_on_both_sides_of_a_limit() -> None:
    """From a look that does nothing, a turn of skin either way raises one place and lowers another: no corner."""
    look = read_look(LOOKS / "night-workshop.toml")
    free = free_parameters(look)
    model = Model(look, free, np.full((1, 3), 0.4))
    barrier = Barrier(look)
    i = [f.name for f in free].index("print.printer_red")
    there, back = (barrier.of(model.function(i, z), skin) for z in (1e-3, -1e-3))
    here = barrier.of(model.function(), skin)
    np.testing.assert_allclose(there - here, here - back, atol=3e-3)
    assert (there - here).max() > 1e-3 and (there - here).min() < -1e-3


def test_what_asks_for_many_colours_joins_when_it_fails() -> None:
    look = read_look(LOOKS / "overcast.toml")
    barrier = Barrier(look)
    function = Model(look, free_parameters(look), np.full((1, 3), 0.4)).function()
    assert tuple(barrier.watched) == ALWAYS and not {folds, banding} & set(ALWAYS)
    wanted = barrier.measurements_of(["fold", "skin_hue"], function)
    assert wanted == [skin, folds]
    assert barrier.join(wanted) and barrier.watched[-1] is folds and len(barrier.watched) == len(ALWAYS) + 1
    assert not barrier.join(wanted)


@pytest.mark.parametrize("count", [1, MOST, MOST + 1, 2160, 3064])
def test_of_many_places_the_worst_of_neighbours_is_told(count: int) -> None:
    harm = np.random.default_rng(count).normal(size=count)
    got = _fewer(harm)
    assert len(got) <= MOST and got.max() == harm.max()
    size = -(-count // len(got)) if count > MOST else 1
    np.testing.assert_array_equal(got[0], harm[: -(-count // MOST)].max())
    assert len(got) >= count / (size + 1)
