"""Ratios at the edges, and how they are said."""

import json

import numpy as np
import pytest

from lookwright.assess.measure.levels import level
from lookwright.assess.measure.ratios import ratio, spoken_ratio
from lookwright.colour.spaces.signal import Signal

DISPLAY, LOG = Signal.named("BT.1886"), Signal.named("ACEScct")


@pytest.mark.parametrize(
    ("value", "said"),
    [(4.0, "4:1"), (3.9, "4:1"), (2.6, "2.5:1"), (1.0, "1:1"), (4.8, "5:1"), (23.6, "24:1"), (0.25, "1:4")],
)
def test_said_in_halves_then_whole(value: float, said: str) -> None:
    assert spoken_ratio(value) == said


def test_black_side_gives_no_ratio_but_a_sentence() -> None:
    key, fill = level(np.full((2, 2, 3), 0.5), LOG, "key"), level(np.zeros((2, 2, 3)), LOG, "fill")
    found = ratio(key, fill)
    assert found.light is None and found.light_stops is None
    assert "holds no light" in found.sentence_when_different()
    json.dumps(found.to_dict(), allow_nan=False)


def test_levels_of_the_shown_picture_are_the_spoken_ones() -> None:
    recorded = [level(np.full((2, 2, 3), v), LOG, n) for v, n in ((0.5, "key"), (0.3, "fill"))]
    shown = [level(np.full((2, 2, 3), v), DISPLAY, n) for v, n in ((0.6, "key"), (0.15, "fill"))]
    found = ratio(*recorded, *shown)
    assert found.spoken == pytest.approx(4.0) and (found.first_level, found.second_level) == pytest.approx((60, 15))
    # The light stays that of the recording: 0.514056913328 / 0.045310838527, ACEScct values of OpenColorIO's tests.
    assert found.light == pytest.approx(0.514056913328 / 0.045310838527, rel=1e-8)
    assert found.light_is == "light"
