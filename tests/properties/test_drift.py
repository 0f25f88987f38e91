"""Clips whose light is known: drift, flicker and steps are measured, and a walker and a shaking camera are not."""

from __future__ import annotations

import numpy as np
import pytest
from moving import Course, clip, course

from lookwright.solve.series.drift import Drift, drift
from lookwright.solve.series.graph import levels
from lookwright.solve.series.places import where


def left(found: Drift, truth: Course) -> tuple[float, float]:
    """Root mean square of what the measured curve leaves of the true one, about its mean: stops, mired."""
    return float(np.std(found.stops - truth.stops)), float(np.std(found.mired - truth.mired))


@pytest.mark.parametrize("still", ["close", "insert", "chart"])
def test_slow_drift_is_followed(still: str) -> None:
    truth = course(50, drift=0.3, mired=15.0)
    found = drift(clip(still, truth))
    stops, mired = left(found, truth)
    assert stops <= 0.005 and mired <= 0.5
    assert found.steps == () and found.unlike == ()
    assert abs(found.span_stops - np.ptp(truth.stops)) <= 0.015
    assert np.std(found.slow_stops - truth.stops) <= 0.005, "what is left after the slow curve is taken out"
    keys = dict(found.keyframes())
    assert 0 in keys and 49 in keys and 3 <= len(keys) <= 12
    frames = np.arange(50)
    line = np.interp(frames, sorted(keys), [keys[k].stops for k in sorted(keys)])
    assert np.abs(line - found.slow_stops).max() <= 0.005 + 1e-9


@pytest.mark.parametrize("flicker", [0.0, 0.02, 0.05])
def test_flicker_is_measured(flicker: float) -> None:
    truth = course(60, flicker=flicker)
    found = drift(clip("close", truth))
    assert abs(found.flicker_stops - float(np.std(truth.stops))) <= 0.003
    assert found.steps == ()


@pytest.mark.parametrize(("lamp", "place"), [((23, "left", -0.6), "on the left"), ((31, "spot", 0.8), "right")])
@pytest.mark.parametrize("still", ["close", "wide"])
def test_a_lamp_is_found_to_the_frame(still: str, lamp: tuple[int, str, float], place: str) -> None:
    found = drift(clip(still, course(48, drift=0.1, flicker=0.005, lamp=lamp, pan=0.2)))
    assert [s.frame for s in found.steps] == [lamp[0]]
    assert found.steps[0].kind == "light" and place in found.steps[0].where
    assert np.sign(found.steps[0].stops) == np.sign(lamp[2])
    assert found.parts == ((0, lamp[0]), (lamp[0], 48))


def test_an_iris_pulled_in_one_frame_is_exposure() -> None:
    truth = course(40)
    moved = Course(truth.stops + 0.3 * (np.arange(40) >= 17), truth.mired)
    found = drift(clip("close", moved))
    assert [(s.frame, s.kind) for s in found.steps] == [(17, "exposure")]
    assert abs(found.steps[0].stops - 0.3) <= 0.02
    assert abs(found.slow_stops[17] - found.slow_stops[16] - 0.3) <= 0.02, "and the slow curve does not smear it"


@pytest.mark.parametrize(
    ("still", "seed", "body", "way"),
    [
        ("chart", 1, 0.08, (0.2, 0.7)),  # was taken for a lamp: the walker uncovers a bright patch
        ("wide", 2, 0.2, (-0.3, 1.3)),
        ("close", 3, 0.35, (1.5, -0.5)),
        ("insert", 4, 0.1, (-0.5, 3.0)),
    ],
)
def test_somebody_who_walks_in_front_is_no_step(still: str, seed: int, body: float, way: tuple[float, float]) -> None:
    """Near or far, slow or quick, over the whole frame or a part of it."""
    found = drift(clip(still, course(48, drift=0.2, mired=10.0, flicker=0.01), seed=seed, body=body, way=way))
    assert found.steps == ()


def test_a_flash_is_no_step() -> None:
    truth = course(40)
    flash = Course(truth.stops + 0.8 * (np.arange(40) == 20), truth.mired)
    assert drift(clip("close", flash)).steps == ()


def test_a_cut_and_a_black_frame_are_named() -> None:
    first, second = clip("close", course(12)), clip("chart", course(12))
    found = drift([*first, *second])
    assert 12 in found.unlike
    black = [*first[:6], np.zeros_like(first[0]), *first[6:]]
    assert {6, 7} <= set(drift(black).unlike)
    found = drift([np.full_like(first[0], np.nan)])
    assert found.flicker_stops == 0.0 and found.to_dict()["stops"] == [0.0]


def test_no_frame_is_refused() -> None:
    with pytest.raises(ValueError, match="no frame"):
        drift([])


def test_the_graph_outvotes_wrong_edges() -> None:
    """Least absolute deviations: a fifth of the edges off by a stop, and the answer stays."""
    rng = np.random.default_rng(3)
    true = rng.normal(0.0, 0.5, (12, 2))
    true -= true[0]
    edges = [(i, j) for i in range(12) for j in range(i + 1, 12) if (i + j) % 2 or j == i + 2]
    steps = np.array([true[j] - true[i] for i, j in edges]) + rng.normal(0.0, 0.003, (len(edges), 2))
    wrong = rng.choice(len(edges), len(edges) // 5, replace=False)
    steps[wrong] += rng.choice([-1.0, 1.0], (len(wrong), 2))
    found = levels(13, edges, steps, np.full_like(steps, 0.003))
    assert np.abs(found[:12] - true).max() <= 0.01
    assert np.isnan(found[12]).all(), "a node that no edge joins is not known"


def test_places_in_words() -> None:
    cells = np.zeros((9, 16), bool)
    cells[:3, :4] = True
    assert where(cells) == "at the upper left" and where(cells[:, ::-1]) == "at the upper right"
    assert where(np.ones((4, 4))) == "over most of the picture" and where(np.zeros((4, 4))) == "nowhere"
