"""Natural colours: what counts as one, and an independent draw of them."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.colour.spaces.oklab import hue_and_saturation, opponent_to_scene, scene_to_opponent
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.fit.prior import draw, even, natural, prior_of


@pytest.mark.parametrize("name", ["ACEScct", "ARRI LogC3", "BT.1886"])
def test_greys_of_middle_light_count_most(name: str) -> None:
    weight = natural(Signal.named(name))
    cube = np.random.default_rng(1).random((4000, 3))
    found = weight(cube)
    assert found.min() >= 0.0 and found.max() <= 1.0 and np.isfinite(found).all()
    greys = np.repeat(np.linspace(0.0, 1.0, 101)[:, None], 3, axis=1)
    assert weight(greys).max() > 0.95
    assert weight(np.ones((1, 3)))[0] < 0.25
    assert found.mean() < 0.25, "most of a cube is not natural"


def test_weight_falls_by_e_at_the_stated_saturation() -> None:
    log = Signal.named("ACEScct")
    opponent = scene_to_opponent(np.full((2, 3), 0.18))
    opponent[1, 1] = 0.12
    grey, coloured = natural(log)(log.from_scene(opponent_to_scene(opponent)))
    assert coloured / grey == pytest.approx(np.exp(-1.0), rel=1e-6)


def test_a_draw_is_spread_as_the_prior_says() -> None:
    def prior(points: np.ndarray) -> np.ndarray:
        return np.where(points[:, 0] < 0.25, 0.9, 0.1)

    drawn = draw(prior, 8000, 3)
    # A quarter of the cube with nine times the weight: 0.225 / 0.3.
    assert (drawn[:, 0] < 0.25).mean() == pytest.approx(0.75, abs=0.01)
    assert np.quantile(drawn[:, 1], [0.25, 0.5, 0.75]) == pytest.approx([0.25, 0.5, 0.75], abs=0.01)
    assert np.array_equal(drawn, draw(prior, 8000, 3)) and not np.array_equal(drawn, draw(prior, 8000, 4))
    assert len(np.unique(drawn, axis=0)) == 8000


def test_a_draw_from_a_camera_signal_is_nearer_to_pictures_than_the_cube_is() -> None:
    """Photographs have about 0.1 in the median, the cube 0.53 (measured); few colours of the cube are dull, so that the
    draw, which weighs them, lies between."""
    log = Signal.named("ACEScct")

    def median(signal: np.ndarray) -> float:
        return float(np.median(hue_and_saturation(scene_to_opponent(log.to_scene(signal)))[1]))

    assert median(draw(natural(log), 4000, 1)) < 0.3 < 0.5 < median(draw(even, 4000, 1))


def test_what_states_no_source_counts_evenly() -> None:
    assert prior_of(len) is even and (even(np.zeros((5, 3))) == 1.0).all()
