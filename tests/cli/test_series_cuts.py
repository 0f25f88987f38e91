"""A clip whose light changes on the way is two shots of ``lookwright series``, cut at that frame."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("imageio_ffmpeg")
if not os.environ.get("CI"):
    pytest.importorskip("av")  # in CI its absence is a fault
    pytest.importorskip("opentimelineio")

from clip_takes import encode
from moving import Course, course
from moving import clip as moving
from takes import LOG

from lookwright.lut.formats.cdl import read_cdl
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.lattices.interpolate import lookup
from lookwright.pictures.clips.read import all_frames, read_clip
from lookwright.solve.series.memory import read_memory

Run = Callable[..., Any]

LAMP, IRIS = 10, 9
LAMPS = ["lamp-from-00-00-00-00", "lamp-from-00-00-00-10"]
IRISES = ["iris-from-00-00-00-00", "iris-from-00-00-00-09"]
LIST = """\
TITLE: EPISODE 1
FCM: NON-DROP FRAME

001  lamp     V     C        00:00:00:02 00:00:01:02 01:00:00:00 01:00:01:00
* FROM CLIP NAME: lamp.mov
* COMMENT: the lamp goes out
002  lamp     V     C        00:00:00:00 00:00:00:10 01:00:01:00 01:00:01:10
* FROM CLIP NAME: lamp.mov
003  plain    V     C        00:00:00:00 00:00:00:08 01:00:01:10 01:00:01:18
* FROM CLIP NAME: plain.mov
"""


@pytest.fixture(scope="module")
def rushes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A steady take; one a bit over, in which a lamp goes out at frame 10; one in which the iris opens at frame 9."""
    folder = tmp_path_factory.mktemp("rushes")
    lamp, iris = course(26, lamp=(LAMP, "left", -0.9)), course(20)
    for name, truth in (
        ("plain", course(8)),
        ("lamp", Course(lamp.stops + 0.4, lamp.mired, lamp.lamp)),
        ("iris", Course(iris.stops + 0.5 * (np.arange(20) >= IRIS), iris.mired)),
    ):
        light = moving("close", truth, walker=False, seed=len(name))
        encode(folder / f"{name}.mov", np.stack([LOG.from_scene(f) for f in light]))
    return folder


def test_a_clip_is_cut_where_its_light_changes(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    out = tmp_path / "out"
    run = ["series", look, "--shots", rushes, "--anchor", "plain", "--no-marks", "--out", out, "--size", "17"]
    said = lookwright(*run, "--clips", "graded", "--config")
    assert said.code == 0, said.out + said.err
    shots = [*IRISES, *LAMPS, "plain"]
    assert [line.split(":")[0] for line in said.out.splitlines() if not line.startswith(" ")][:5] == shots
    assert "iris: its light changes at 00:00:00:09 (+0.50 stop everywhere): cut there into " in said.out
    assert re.search(
        r"within lamp-from-00-00-00-10: begins where the light changes, -0\.[5-9]\d stop on the left", said.out
    )
    assert f"5 of 5 within 0.1 stop and 5 mired; report in {out}" in said.out and "graded 3 clip(s)" in said.out
    assert [c.id for c in read_cdl(out / "series.ccc")] == shots
    assert sorted(p.stem for p in (out / "cdl").iterdir()) == sorted(p.stem for p in (out / "cube").iterdir()) == shots
    assert IRISES[1] in (out / "cube" / f"{IRISES[1]}.cube").read_text()
    data = {d["shot"]: d for d in json.loads((out / "drift.json").read_text())}
    assert [data[n]["match"]["difference"]["stops"] for n in IRISES] == pytest.approx([0.0, 0.5], abs=0.02)
    assert [data[n]["match"]["difference"]["stops"] for n in LAMPS] == pytest.approx([0.4, 0.4], abs=0.02)
    assert data[LAMPS[1]]["span"] == [pytest.approx((LAMP - 0.5) / 24), None] and data["plain"]["span"] is None
    assert len(data[LAMPS[0]]["inside"]["seconds"]) == LAMP and "begins" not in data[LAMPS[0]]["inside"]
    page = (out / "series.html").read_text(encoding="utf-8")
    assert page.count("data:image/jpeg") >= 10 and all(name in page for name in shots)
    assert sorted(p.name for p in (out / "clips").glob("*.mp4")) == ["iris.mp4", "lamp.mp4", "plain.mp4"]
    for name, at in (("iris", IRIS), ("lamp", LAMP)):
        _changes_at(out, rushes, name, at, IRISES if name == "iris" else LAMPS)
    again = lookwright(*run, "--clips", "graded")
    assert "graded 0 clip(s), 3 there already" in again.out


def _changes_at(out: Path, rushes: Path, name: str, at: int, parts: list[str]) -> None:
    """Each frame of the preview is graded by the LUT of its own side, to the frame."""
    luts = [read_cube(out / "cube" / f"{part}.cube").lattice for part in parts]
    taken, graded = (list(all_frames(read_clip(p))) for p in (rushes / f"{name}.mov", out / "clips" / f"{name}.mp4"))
    assert len(taken) == len(graded)
    means = np.array([[lookup(lut, np.clip(f.pixels.astype(float), 0, 1)).mean() for lut in luts] for f in taken])
    shown = np.array([f.pixels.mean() for f in graded])
    own = (np.arange(len(taken)) >= at).astype(int)
    assert np.abs(shown - means[np.arange(len(taken)), own]).max() < 0.002
    if name == "iris":
        assert np.abs(means[:, 0] - means[:, 1]).min() > 0.02, "the two LUTs could be told apart at every frame"
        assert np.ptp(shown) < 0.004, "what the iris did is gone"


def test_steadied_parts_change_at_once(look: Path, tmp_path: Path, lookwright: Run) -> None:
    """A drift before the iris is taken out, up to that frame; the part after it has none and is left."""
    stops = np.where(np.arange(32) < 20, 0.3 * np.arange(32) / 19.0, 0.9)
    light = moving("close", Course(stops, np.zeros(32)), walker=False)
    clip = encode(tmp_path / "take.mov", np.stack([LOG.from_scene(f) for f in light]))
    out = tmp_path / "out"
    said = lookwright(
        *("series", look, "--shots", clip, "--anchor", "take-from-00-00-00-00", "--no-marks", "--out", out),
        *("--clips", "graded", "--steady", "--size", "17"),
    )
    assert said.code == 0 and "within take-from-00-00-00-00: drifts by 0.30 stop" in said.out, said.out + said.err
    shown = np.array([f.pixels.mean() for f in all_frames(read_clip(out / "clips/take.mp4"))])
    assert len(shown) == 32 and np.ptp(shown) < 0.006, shown


def test_whole_clips_on_request(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    out = tmp_path / "out"
    run = ("series", look, "--shots", rushes, "--anchor", rushes / "plain.mov", "--no-marks", "--out", out, "--whole")
    said = lookwright(*run)
    assert [c.id for c in read_cdl(out / "series.ccc")] == ["iris", "lamp", "plain"]
    assert "within lamp: its light changes at 0.42 s (frame 10), on the left: not cut there" in said.out
    assert "of 3 within" in said.out


def test_a_list_gets_what_it_has_room_for(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    import opentimelineio as otio

    (tmp_path / "ep1.edl").write_text(LIST)
    out = tmp_path / "out"
    more = ("--media", rushes, "--anchor", "plain", "--no-marks")
    said = lookwright("series", look, "--timeline", tmp_path / "ep1.edl", *more, "--out", out)
    assert said.code == 0, said.out + said.err
    text = (out / "ep1.edl").read_text()
    assert "".join(x for x in text.splitlines(True) if not x.startswith("* ASC_S")) == LIST
    found = {c.id: c for c in read_cdl(out / "series.ccc")}
    first, longest = "lamp-from-00-00-00-02", LAMPS[1]
    assert list(found) == [first, longest, "lamp-2", "plain"], "the second event ends before the lamp goes out"
    offsets = [[float(v) for v in t.split()] for t in re.findall(r"ASC_SOP \(.*?\)\((.*?)\)", text)]
    wanted = [found[n].offset for n in (longest, "lamp-2", "plain")]
    assert np.allclose(offsets, wanted, rtol=0, atol=1e-6)
    told = f"ep1.edl: picture event 1 has the CDL of {longest}, its longest part, since it has room for one; its light"
    assert f"{told} changes 0.33 s in ({longest}): cut the event there for those of its other parts" in said.out
    _marked(otio.adapters.read_from_file(str(out / "ep1.otio")), found[longest])
    # The same from OpenTimelineIO's own format: the marker that stands there already is set anew, not twice.
    again = lookwright("series", look, "--timeline", out / "ep1.otio", *more, "--out", tmp_path / "2")
    assert again.code == 0 and "markers stand there, with the CDLs of their parts" in again.out, again.err
    _marked(otio.adapters.read_from_file(str(tmp_path / "2" / "ep1.otio")), found[longest])


def _marked(timeline: Any, correction: Any) -> None:
    """One marker, at the frame of the lamp, on the clip's own clock."""
    clips = timeline.find_clips()
    markers = [m for c in clips for m in c.markers]
    assert len(markers) == 1 and markers[0].marked_range.start_time.to_frames() == LAMP
    assert markers[0].name == "light changes: lamp-from-00-00-00-10" and len(clips[0].markers) == 1
    assert list(markers[0].metadata["cdl"]["asc_sop"]["offset"]) == pytest.approx(correction.offset, abs=1e-4)


def test_a_part_is_the_anchor_and_is_kept(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    kept = tmp_path / "series.toml"
    run = ("series", look, "--no-marks", "--memory", kept)
    both = ("--shots", rushes / "lamp.mov", "--shots", rushes / "iris.mov")
    one = lookwright(*run, *both, "--anchor", IRISES[1], "--episode", "1", "--out", tmp_path / "1")
    assert f"{IRISES[1]}: the anchor" in one.out, one.out + one.err
    memory = read_memory(kept)
    assert memory.anchor.file == str(rushes / "iris.mov") and memory.anchor.span == (
        pytest.approx(8.5 / 24, abs=1e-3),
        np.inf,
    )
    assert [(s.name, s.first is None) for s in memory.episode[0].shot] == [(n, False) for n in (*IRISES, *LAMPS)]
    two = lookwright(*run, "--shots", rushes / "plain.mov", "--episode", "2", "--out", tmp_path / "2")
    assert "plain: was 0.5" in two.out and "stops under" in two.out, "against the part, not the middle of the clip"
    assert read_memory(kept).anchor == memory.anchor
    named = ("series", look, "--no-marks", "--shots", rushes / "plain.mov", "--out", tmp_path / "2", "--anchor")
    same = lookwright(*named, rushes / IRISES[1])
    assert same.out.splitlines()[0] == two.out.splitlines()[0], (
        "a part of a clip that is none of the shots, by its name"
    )
    wrong = lookwright(*run, *both, "--anchor", IRISES[0], "--episode", "3", "--out", tmp_path / "3")
    assert wrong.code == 2 and "keeps the anchor" in wrong.err and "iris.mov from 0.4 s" in wrong.err, wrong.err
    assert "Traceback" not in wrong.err and len(read_memory(kept).episode) == 2


def test_a_clip_that_was_kept_whole_may_be_cut_later(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    kept = tmp_path / "series.toml"
    run = ("series", look, "--no-marks", "--memory", kept, "--shots", rushes / "iris.mov")
    whole = lookwright(*run, "--anchor", "iris", "--whole", "--out", tmp_path / "1")
    cut = lookwright(*run, "--episode", "2", "--out", tmp_path / "2")
    assert whole.code == cut.code == 0 and f"{IRISES[1]}: the anchor" in cut.out, whole.err + cut.err
    assert read_memory(kept).anchor.span is None


def test_the_longest_part_stands_for_a_clip_that_is_named(
    look: Path, rushes: Path, tmp_path: Path, lookwright: Run
) -> None:
    run = ("series", look, "--shots", rushes / "lamp.mov", "--no-marks", "--anchor")
    said = lookwright(*run, rushes / "lamp.mov", "--out", tmp_path / "out")
    assert said.code == 0 and f"{LAMPS[1]}: the anchor" in said.out, said.out + said.err
    assert f"the anchor is {LAMPS[1]}, the longest part of lamp.mov" in said.out
    assert f"{LAMPS[0]}: was the same; " in said.out, "the lamp is no difference of exposure"
    typo = lookwright(*run, "lamp-from-00-00-00-11", "--out", tmp_path / "3")
    assert typo.code == 2 and f"nor a shot of that name; there is {LAMPS[0]}, {LAMPS[1]}" in typo.err, typo.err
    typo = lookwright("series", look, "--shots", rushes, "--anchor", "plian", "--out", tmp_path / "3")
    assert typo.code == 2 and "no such file, nor a shot of that name; did you mean plain?" in typo.err, typo.err
    assert not (tmp_path / "3").exists()
