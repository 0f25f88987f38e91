"""Where a clip is cut, what its parts are called and made of, and how one follows from another."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from lookwright.jobs import stand_ins as module
from lookwright.jobs.parts import Change, chosen, clock, pieces
from lookwright.jobs.series_shots import Source
from lookwright.jobs.steady import Key, joined, values_at
from lookwright.pictures.clips.read import Clip
from lookwright.solve.series.difference import Difference
from lookwright.solve.series.drift import Drift
from lookwright.solve.series.match import Match
from lookwright.solve.series.steps import Step
from lookwright.solve.series.through import Link, through

RATE = 24
TIMES = tuple(n / RATE for n in range(72))


def step(frame: int, stops: float = 0.5, kind: str = "light") -> Step:
    return Step(frame, kind, stops, 0.0, "on the left")


def drifting(*steps: Step, unlike: tuple[int, ...] = (), stops: np.ndarray | None = None) -> Drift:
    curve = np.zeros(72) if stops is None else stops
    return Drift(curve, np.zeros(72), curve, np.zeros(72), steps, float(RATE), unlike)


def source(name: str = "take", rate: float = RATE, seconds: float = 3.0) -> Source:
    path, rate_ = Path(f"{name}.mov"), Fraction(rate)
    clip = Clip(path, 160, 90, "h264", "yuv420p10le", 10, False, "BT.709", "legal", "BT.709", "BT.709", rate_, seconds)
    return Source(name, clip.path, clip)


def change(frame: int) -> Change:
    return Change(step(frame), TIMES[frame], TIMES[frame - 1])


def test_a_clip_is_cut_where_the_new_light_lasts() -> None:
    """Not so near to an end, or to a larger change, that it could be a flash."""

    def frames(*steps: Step) -> list[int]:
        return [s.frame for s in chosen(drifting(*steps))]

    assert frames() == []
    assert frames(step(8), step(64)) == [8, 64]
    assert frames(step(7), step(65)) == []
    assert frames(step(20, 0.3), step(27, -0.6), step(35, 0.2)) == [27, 35]


@pytest.mark.parametrize(
    ("seconds", "rate", "told"),
    [
        (0.0, 24.0, "00:00:00:00"),
        (3.5, 24.0, "00:00:03:12"),
        (3724.96, 25.0, "01:02:04:24"),
        (1001 / 24000 * 24, 24000 / 1001, "00:00:01:00"),
        (59.98, 50.0, "00:00:59:49"),
    ],
)
def test_time_from_the_first_frame(seconds: float, rate: float, told: str) -> None:
    assert clock(seconds, rate) == told


def test_parts_are_called_by_where_they_begin_and_shown_by_a_frame_of_their_own() -> None:
    found = pieces(source(), drifting(), TIMES, [change(20), change(50)], ["take", "TAKE-from-00-00-00-20"])
    assert [p.source.shot for p in found] == [
        "take-from-00-00-00-00",
        "take-from-00-00-00-20-2",
        "take-from-00-00-02-02",
    ]
    assert [p.frames for p in found] == [(0, 20), (20, 50), (50, 72)] and [p.shown for p in found] == [10, 35, 61]
    spans = [(p.source.first * RATE, p.source.last * RATE) for p in found]
    assert spans == [
        (0.0, pytest.approx(19.5)),
        (pytest.approx(19.5), pytest.approx(49.5)),
        (pytest.approx(49.5), np.inf),
    ]
    assert {p.source.whole for p in found} == {p.source.name for p in found} == {"take"}
    (alone,) = pieces(source(), drifting(), TIMES, [], ["take"])
    assert alone.source == source() and alone.source.whole == "" and alone.shown == 36 and alone.begins is None


def test_a_part_is_a_clip_of_its_own() -> None:
    curve = 0.1 + np.where(np.arange(72) < 30, 0.0, 0.5) + 0.001 * np.arange(72)
    part = drifting(step(30), step(40), stops=curve, unlike=(50,)).part(30, 72)
    assert len(part.stops) == len(part.slow_mired) == 42 and part.stops[0] == 0.0
    assert part.stops[-1] == pytest.approx(0.041) and part.span_stops == pytest.approx(0.041)
    assert [s.frame for s in part.steps] == [10] and part.unlike == (20,), "its own first frame is no step in it"


def test_what_the_camera_did_between_two_frames() -> None:
    curve = np.where(np.arange(72) < 30, 0.0, 0.2) + np.where(np.arange(72) < 50, 0.0, 0.5) + 0.001 * np.arange(72)
    both = drifting(step(30, kind="light"), step(50, kind="exposure"), stops=curve)
    assert both.between(10, 60).stops == pytest.approx(0.55 - 0.001), "the lamp is none of the camera's doing"
    assert both.between(10, 20) == Difference(pytest.approx(0.01), 0.0)
    assert replace(both, unlike=(40,)).between(10, 60) is None, "another picture in between"
    assert drifting(stops=np.where(np.arange(72) < 60, 0.0, np.nan)).between(10, 65) is None


# -- a part that nothing else decides -------------------------------------------------------------------------------

A, B, C, D = (Path(f"{n}.tif") for n in "abcd")
OTHER = Match(Difference(), "content", 0.0, 0.2, "same key, changed here", state="changed")
KNOWN = Match(Difference(0.4, 12.0, 0.001, 0.002), "content", 0.8, 0.05, "", stops_error=0.03, mired_error=1.0)
LINKS = [Link(A, B, "a", Difference(0.5, 3.0)), Link(B, C, "b", Difference(-0.2, 1.0))]


def test_a_part_follows_from_the_nearest_that_is_known() -> None:
    found = through([A, B, C, D], list("abcd"), [KNOWN, OTHER, OTHER, OTHER], LINKS)
    assert found[0] is KNOWN and found[3] is OTHER, "what no clip joins stays as it is"
    assert [(m.difference.stops, m.difference.mired) for m in found[1:3]] == [
        (pytest.approx(0.9), pytest.approx(15.0)),
        (pytest.approx(0.7), pytest.approx(16.0)),
    ]
    assert (
        found[1].by == "clip" and found[1].state == "matched" and found[1].changed == "" and found[1].compared == ("a",)
    )
    assert "same key, changed here" in found[1].note, "the change stays named"
    assert found[1].stops_error > 0.03 and found[1].difference.tint == 0.001
    assert found[1].difference.flare == pytest.approx(0.002 * 2**0.5), "the iris is behind the lens"
    back = through([A, B, C], list("abc"), [OTHER, OTHER, KNOWN], LINKS)
    assert [m.difference.stops for m in back] == pytest.approx([0.1, 0.6, 0.4])


def test_nothing_follows_from_what_is_not_known() -> None:
    """Another set stays uncorrected in all of its parts; what was decided stays."""
    assert through([A, B, C], list("abc"), [OTHER, OTHER, OTHER], LINKS) == [OTHER, OTHER, OTHER]
    own = replace(KNOWN, difference=Difference(0.1))
    assert through([A, B], list("ab"), [KNOWN, own], LINKS) == [KNOWN, own]


# -- keyframes of parts ---------------------------------------------------------------------------------------------


def test_keyframes_of_parts_change_at_once() -> None:
    one, two = Key(0.0, 0.0, 0.0, (1.0,) * 10), Key(0.9, 0.0, 0.0, (2.0,) * 10)
    keys = joined([(0.0, [one, two]), (1.0, ()), (2.0, [Key(2.02, 0.0, 0.0, (4.0,) * 10)])])
    found = [values_at(keys, t)[0] for t in (0.0, 0.45, 0.95, 0.9999, 1.0, 1.9999, 2.0, 2.5)]
    assert found == pytest.approx([1.0, 1.5, 2.0, 2.0, 1.0, 1.0, 4.0, 4.0], abs=1e-6)
    assert joined([(0.0, ()), (1.0, ())]) == () and joined([(0.0, [one, two])]) == (one, two)


def test_of_a_long_clip_the_frame_is_found_among_those_that_were_not_measured(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("imageio_ffmpeg")
    pytest.importorskip("av")
    from clip_takes import encode
    from moving import Course, clip, course
    from takes import LOG

    from lookwright.pictures.clips.read import read_clip

    monkeypatch.setattr(module, "MOST_MEASURED", 18)
    flat = course(54)
    at_once = Course(flat.stops + 0.4 * (np.arange(54) >= 26), flat.mired)
    path = encode(tmp_path / "long.mov", np.stack([LOG.from_scene(f) for f in clip("close", at_once, walker=False)]))
    found = module.stand_ins([Source(path.stem, path, read_clip(path))], tmp_path, LOG)
    assert list(found.inside) == ["long-from-00-00-00-00", "long-from-00-00-01-02"]
    second = found.parts["long"][1].source
    assert second.first * 24 == pytest.approx(25.5) and found.inside[second.shot].every == 3
    slow = Course(flat.stops + 0.4 * np.clip((np.arange(54) - 24) / 6.0, 0.0, 1.0), flat.mired)
    path = encode(tmp_path / "turned.mov", np.stack([LOG.from_scene(f) for f in clip("close", slow, walker=False)]))
    found = module.stand_ins([Source(path.stem, path, read_clip(path))], tmp_path, LOG)
    assert list(found.inside) == ["turned"], "an iris that takes a quarter of a second is none that can be cut at"
