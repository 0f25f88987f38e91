"""The exposure map in steps: told apart by everyone, labelled rightly, switched off singly."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from lookwright.assess.measure.step_colours import MOST_STEPS, step_colours
from lookwright.assess.measure.stepped import Steps, step_values, steps_of
from lookwright.colour.difference import ciede2000, xyz_to_lab
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import WrongUse

SRGB = colour.RGB_COLOURSPACES["sRGB"]
# Machado, Oliveira and Fernandes 2009, severity 1, as colour-science prints them; applied to linear sRGB.
EYES = {
    "normal": np.eye(3),
    **{
        n: np.array(colour.blindness.CVD_MATRICES_MACHADO2010[n][1.0])
        for n in ("Protanomaly", "Deuteranomaly", "Tritanomaly")
    },
}


def _lab(codes: np.ndarray, eyes: str) -> np.ndarray:
    light = colour.models.eotf_sRGB(codes) @ EYES[eyes].T
    return xyz_to_lab(np.clip(light, 0.0, 1.0) @ SRGB.matrix_RGB_to_XYZ.T)


@pytest.mark.parametrize("count", range(3, MOST_STEPS + 1))
@pytest.mark.parametrize("eyes", EYES)
def test_neighbours_are_told_apart(count: int, eyes: str) -> None:
    lab = _lab(step_colours(count), eyes)
    apart = ciede2000(lab[1:], lab[:-1])
    assert apart.min() >= (10.0 if eyes == "normal" else 7.0)
    if eyes == "normal":
        assert np.diff(lab[:, 0]).min() >= 5.0


def test_the_steps_where_faces_live_are_not_dark() -> None:
    """From -2 to +1 stops: lightness of 35 to 75, where -2 once stood at 9."""
    steps = steps_of("stops")
    lightness = _lab(steps.colours, "normal")[:, 0]
    face = [steps.of(np.array(s)) for s in (-1.5, -0.5, 0.5)]
    assert all(35.0 < lightness[i] < 75.0 for i in face)
    assert len(set(map(int, face))) == 3


def test_a_border_belongs_to_the_step_above() -> None:
    steps = steps_of("percent")
    assert steps.of(np.array([4.9, 5.0, 95.0, 94.9])).tolist() == [0, 1, 10, 9]
    assert steps.labels[0] == "under 5 %" and steps.labels[5] == "45 to 55" and steps.labels[-1] == "over 95 %"
    assert steps_of("stops").labels[4] == "−2 to −1"


def test_detail_of_the_picture_never_renames_a_step() -> None:
    """The nearest colour is still that of the pixel's own step, with the strongest detail there can be."""
    steps = steps_of("stops")
    rng = np.random.default_rng(7)
    values = rng.uniform(-6.0, 5.0, (60, 80))
    painted = steps.painted(values, rng.uniform(0.0, 1.0, (60, 80, 3)))
    gaps = ((painted[:, :, None] - steps.colours) ** 2).sum(axis=-1)
    assert (np.argmin(gaps, axis=-1) == steps.of(values)).all()


def test_a_step_that_is_off_shows_the_picture_in_grey() -> None:
    steps = Steps("percent", (50.0,))
    picture = np.array([[[0.9, 0.1, 0.1], [0.2, 0.2, 0.2]]])
    shown = steps.painted(np.array([[20.0, 80.0]]), picture, off=[0])
    assert np.allclose(shown[0, 0], 0.9 * 0.2126 + 0.1 * 0.7874)
    assert not np.allclose(shown[0, 1], shown[0, 1, 0])


def test_stops_and_percent_of_a_grey_card() -> None:
    aces = Signal.named("ACEScct")
    card = aces.from_scene(np.full((1, 1, 3), 0.18))
    stops, estimated = step_values(card, aces, "stops")
    assert abs(stops[0, 0]) < 1e-6 and not estimated
    percent, _ = step_values(card, aces, "percent")
    assert abs(percent[0, 0] - 41.3588) < 1e-3  # S-2016-001


@pytest.mark.parametrize("bounds", [tuple(range(MOST_STEPS)), (2.0, 1.0), (float("nan"),), (1.0, 1.0)])
def test_borders_that_cannot_be_are_refused(bounds: tuple[float, ...]) -> None:
    with pytest.raises(WrongUse):
        Steps("stops", bounds)
