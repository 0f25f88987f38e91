"""Marks found on faces: for the still they were found on, and no other."""

from __future__ import annotations

from pathlib import Path

import pytest

from lookwright.colour.spaces.signal import Signal
from lookwright.jobs import found
from lookwright.pictures.stills import Mark, marks_for


def test_found_marks_stand_for_their_own_still_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """The marks of a name stand for longer names that begin with it, when drawn; those found must not."""
    face = Mark("found face", (0.1, 0.1, 0.2, 0.2), role="skin")
    monkeypatch.setattr(found, "can_find_faces", lambda: True)
    monkeypatch.setattr(found, "read_either", lambda path: path)
    monkeypatch.setattr(found, "found_marks", lambda still, signal: [face] if still.stem == "shot" else [])
    drawn = {"door": [Mark("wall", (0.0, 0.0, 0.5, 0.5))]}
    paths = [Path("shot.png"), Path("shot_2.png"), Path("door_3.png")]
    table = found.with_found(drawn, paths, Signal.named("ACEScct"))
    assert [marks_for(table, p) for p in paths] == [[face], [], drawn["door"]]
