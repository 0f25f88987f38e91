"""What a series' page says first."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from lookwright.present.sheets.series_page import in_short

TOLERANCE: Any = SimpleNamespace(stops=0.1, mired=5.0)


def shot(name: str, inside: bool, state: str = "matched") -> Any:
    match = SimpleNamespace(state=state, changed="" if state == "matched" else "of another light")
    return SimpleNamespace(shot=name, inside=inside, match=match)


def test_what_is_not_known_is_not_called_outside() -> None:
    shots = [
        shot("wide", True),
        shot("close", False, "unknown"),
        shot("insert", False, "changed"),
        shot("bench", False),
        shot("door", False, "unknown"),
    ]
    assert in_short(shots, TOLERANCE) == [
        "1 of 5 shots is within 0.1 stop and 5 mired of the anchor.",
        "Still outside (1): bench.",
        "The light is another (1): insert.",
        "Not known (2): close, door.",
    ]


def test_where_all_is_well_that_is_all() -> None:
    assert in_short([shot("wide", True), shot("close", True)], TOLERANCE) == [
        "All 2 shots are within 0.1 stop and 5 mired of the anchor."
    ]
