"""What the solver watches of restraint is what the check measures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lookwright.assess.restraint.limits import BY_NAME
from lookwright.look.recipe.read import read_look
from lookwright.solve.tune.barrier import Barrier
from lookwright.solve.tune.free import free_parameters
from lookwright.solve.tune.model import Model
from lookwright.solve.tune.places import MEASURES, Greys, Noise, Skins

LOOKS = Path(__file__).parents[2] / "looks"

LOOSER = {
    "contrast": 0.01,
    "grey_swing": 0.05,
    "grey_tint": 0.02,
    "grey_card_tint": 0.02,
    "tone_fall": 0.02,
    "black_point": 0.1,
    "white_point": 0.1,
}
"""Harm by which a place may be read off its measure: greys are watched every half stop, measured every tenth or
twentieth. All others to rounding. The check itself decides in the end."""


@pytest.mark.parametrize("name", ["night-workshop", "everyday-daylight", "overcast"])
@pytest.mark.parametrize("seed", [0, 1])
def test_the_worst_place_is_the_measure(name: str, seed: int) -> None:
    look = read_look(LOOKS / f"{name}.toml")
    free = free_parameters(look)
    rng = np.random.default_rng(seed)
    z = 0.5 * np.array([rng.uniform(*f.bounds_z()) for f in free])
    barrier = Barrier(look)
    model = Model(look, free, np.full((1, 3), 0.4))
    model.move(z)
    function = model.function()
    measured = barrier.all_harm(function)
    seen: dict[str, float] = {}
    for watch in (Skins(barrier.subject), Greys(barrier.subject), Noise(barrier.subject)):
        for measure, values in watch(function):
            limit = barrier._limits.get(measure)
            seen[measure] = max(seen.get(measure, 0.0), *(BY_NAME[measure].harm(float(v), limit) for v in values))
    assert set(seen) == set(MEASURES)
    for measure in MEASURES:
        assert seen[measure] == pytest.approx(measured[measure], abs=LOOSER.get(measure, 1e-6)), measure


def test_a_look_is_seen_on_both_sides_of_a_limit() -> None:
    """From a look that does nothing, a turn of skin either way raises one place and lowers another: no corner."""
    look = read_look(LOOKS / "night-workshop.toml")
    free = free_parameters(look)
    model = Model(look, free, np.full((1, 3), 0.4))
    barrier = Barrier(look)
    skins = Skins(barrier.subject)
    i = [f.name for f in free].index("print.printer_red")
    there, back = (barrier.of(model.varied(i, z)[1], skins) for z in (1e-3, -1e-3))
    here = barrier.of(model.function(), skins)
    np.testing.assert_allclose(there - here, here - back, atol=3e-3)
    assert (there - here).max() > 1e-3 and (there - here).min() < -1e-3


def test_a_measure_read_too_low_is_raised_to_what_was_found() -> None:
    look = read_look(LOOKS / "overcast.toml")
    barrier = Barrier(look)
    model = Model(look, free_parameters(look), np.full((1, 3), 0.4))
    skins = barrier.watched[0]
    before = float(barrier.of(model.function(), skins).max())
    barrier.align({"skin_hue": 1.2, "fold": 3.0}, model.function())
    assert float(barrier.of(model.function(), skins).max()) == pytest.approx(1.2)
    assert before < 1.2
