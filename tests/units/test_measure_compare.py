"""Advice in stops from frames whose differences are planted."""

import json

import numpy as np
import pytest

from lookwright.assess.measure.compare import CAUTION, compare
from lookwright.assess.measure.levels import Level, level
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import MarksError

LOG = Signal.named("ACEScct")


def lit(**marks: float) -> dict[str, Level]:
    return {n: level(LOG.from_scene(np.full((3, 3, 3), v)), LOG, n) for n, v in marks.items()}


REFERENCE = {"key": 0.6, "fill": 0.05, "ambient": 0.2, "lamp": 3.0}


def test_one_lamp_over() -> None:
    mine = {**REFERENCE, "ambient": 0.2 * 2**0.7}
    found = compare(lit(**REFERENCE), lit(**mine))
    assert found.common_stops == 0.0
    by_name = {c.mark: c for c in found.changes}
    assert by_name["ambient"].stops == pytest.approx(0.7, abs=1e-6)
    start = "'ambient' is 0.7 stop over the reference: take that light down by 0.7 stop"
    assert by_name["ambient"].sentence.startswith(start)
    assert "(to 62 %" in by_name["ambient"].sentence  # 2 ** -0.7 = 0.616
    assert all("matches" in by_name[n].sentence for n in ("key", "fill", "lamp"))
    assert found.changes[0].mark == "ambient"


def test_exposure_is_told_apart_from_lamps() -> None:
    mine = {n: v * 2.0 for n, v in REFERENCE.items()}
    mine["fill"] = REFERENCE["fill"] * 2.0 * 2.0**-1.5
    found = compare(lit(**REFERENCE), lit(**mine))
    assert found.common_stops == pytest.approx(1.0, abs=1e-6)
    assert "1.0 stop over" in found.summary and "close the iris" in found.summary
    by_name = {c.mark: c for c in found.changes}
    assert by_name["fill"].stops == pytest.approx(-0.5, abs=1e-6)
    assert by_name["fill"].beyond_common == pytest.approx(-1.5, abs=1e-6)
    assert "bring that light up by 1.5 stops" in by_name["fill"].sentence
    assert "leave its light alone" in by_name["key"].sentence


def test_two_marks_do_not_vote_on_exposure() -> None:
    found = compare(lit(key=0.5, fill=0.1), lit(key=1.0, fill=0.2))
    assert found.common_stops == 0.0 and all(c.stops == pytest.approx(1.0, abs=1e-6) for c in found.changes)


def test_missing_marks_are_named_and_none_in_common_is_refused() -> None:
    found = compare(lit(key=0.5, sky=1.0), lit(key=0.5, wall=0.2))
    assert found.missing == ("wall", "sky")
    with pytest.raises(MarksError, match="none in common"):
        compare(lit(key=0.5), lit(wall=0.2))


def test_display_frames_are_said_to_be_estimates() -> None:
    display = Signal.named("BT.1886")
    a = {"wall": level(np.full((2, 2, 3), 0.40), display, "wall")}
    b = {"wall": level(np.full((2, 2, 3), 0.50), display, "wall")}
    change = compare(a, b).changes[0]
    assert change.estimated and "is about" in change.sentence and change.stops > 0.5


def test_caution_goes_with_every_comparison() -> None:
    found = compare(lit(key=0.5), lit(key=0.5))
    assert found.caution == CAUTION
    for word in ("overhead", "hot lamps", "mains", "qualified", "codes"):
        assert word in CAUTION.lower()
    json.dumps(found.to_dict(), allow_nan=False)
