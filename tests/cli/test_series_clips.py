"""``lookwright series`` with clips for shots, as a user meets it."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("imageio_ffmpeg")
if not os.environ.get("CI"):
    pytest.importorskip("av")  # in CI its absence is a fault
    pytest.importorskip("opentimelineio")

from clip_takes import encode, ffmpeg, frames_of
from moving import clip as moving
from moving import course
from takes import LOG, Truth

from lookwright.lut.formats.cdl import read_cdl
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.lattices.interpolate import lookup
from lookwright.pictures.clips.read import all_frames, read_clip
from lookwright.pictures.stills import read

Run = Callable[..., Any]

TRUTHS = [Truth("C001"), Truth("C002", 0.5, 30.0), Truth("C003", -0.4, -25.0)]
LIST = """\
TITLE: EPISODE 1
FCM: NON-DROP FRAME

001  C001     V     C        10:00:00:00 10:00:00:12 01:00:00:00 01:00:00:12
* FROM CLIP NAME: C001.mov
002  C002     V     C        10:00:01:04 10:00:01:10 01:00:00:12 01:00:00:18
* FROM CLIP NAME: C002.mov
* COMMENT: keep this
003  AX       V     C        00:00:00:00 00:00:00:12 01:00:00:18 01:00:01:06
* FROM CLIP NAME: nobody has this.mov
004  C003     V     C        10:09:00:00 10:09:00:12 01:00:01:06 01:00:01:18
* FROM CLIP NAME: C003.mov
"""


@pytest.fixture(scope="module")
def rushes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three clips of half a second, 160 x 88: the anchor's take, one brighter and warmer, one darker without sound."""
    folder = tmp_path_factory.mktemp("rushes")
    for n, truth in enumerate(TRUTHS):
        options = ["-timecode", f"10:00:0{n}:00"]
        encode(folder / f"{truth.name}.mov", frames_of("close", truth, seed=9 * n), sound=n < 2, options=options)
    return folder


def tones(clip: Path) -> list[float]:
    """The pitch of each track of sound, by its spectrum."""
    import av

    found = []
    with av.open(str(clip)) as container:
        for stream in container.streams.audio:
            samples = np.concatenate([f.to_ndarray().reshape(-1).astype(float) for f in container.decode(stream)])
            peak = int(np.argmax(np.abs(np.fft.rfft(samples * np.hanning(len(samples))))))
            found.append(peak * stream.rate / len(samples))
    return found


def test_a_folder_of_clips_matched_and_graded(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    out = tmp_path / "out"
    run = ["series", look, "--shots", rushes, "--anchor", rushes / "C001.mov", "--no-marks", "--out", out]
    said = lookwright(*run, "--clips", "graded", "--config", "--size", "17")
    assert said.code == 0, said.out + said.err
    lines = said.out.splitlines()
    assert lines[0] == "C001: the anchor"
    assert re.match(r"C002: was 0\.5\d? stops over, (2[7-9]|3[0-3]) mired warmer.*matched", lines[1]), lines[1]
    assert "graded 3 clip(s)" in lines and lines[-1] == f"3 of 3 within 0.1 stop and 5 mired; report in {out}"
    assert not list(out.glob(".writing*")), "the stills made on the way are gone"
    for name in ("C001", "C002", "C003"):
        _as_the_cube_says(out / "clips" / f"{name}.mp4", rushes / f"{name}.mov", out / "cube" / f"{name}.cube")
    assert [round(t, -1) for t in tones(out / "clips/C002.mp4")] == [440] and tones(out / "clips/C003.mp4") == []
    page = (out / "series.html").read_text(encoding="utf-8")
    assert page.count("data:image/jpeg") == 6 and "http" not in page.split("</head>")[1]
    drift = json.loads((out / "drift.json").read_text())
    assert [d["path"] for d in drift] == [str(rushes / f"{t.name}.mov") for t in TRUTHS]
    assert max(abs(v) for d in drift for v in d["inside"]["stops"]) < 0.01, "nothing drifts"

    (out / "clips/C002.mp4").write_bytes(b"spoilt")
    again = lookwright(*run, "--clips", "graded", "--size", "17")
    assert "graded 1 clip(s), 2 there already" in again.out


def _as_the_cube_says(graded: Path, clip: Path, cube: Path) -> None:
    """The preview shows the clip's frames through its own LUT, and its tags say what it is."""
    info, source = read_clip(graded), read_clip(clip)
    assert (info.matrix, info.range, info.primaries, info.transfer) == ("BT.709", "legal", "BT.709", "BT.709")
    shown, taken = list(all_frames(info)), list(all_frames(source))
    assert len(shown) == len(taken) == 12
    lattice = read_cube(cube).lattice
    for n in (0, 7):
        wanted = lookup(lattice, np.clip(taken[n].pixels.astype(np.float64), 0.0, 1.0))
        off = shown[n].pixels - wanted
        # 4:2:0 at crf 16: a few codes of 8 bits where colours meet.
        assert np.abs(off).mean() < 0.01 and np.abs(off.mean(axis=(0, 1))).max() < 0.003


def test_plain_beside_graded(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    out = tmp_path / "out"
    run = ["series", look, "--shots", rushes / "C002.mov", "--anchor", rushes / "C001.mov", "--no-marks", "--out", out]
    said = lookwright(*run, "--clips", "pair", "--size", "17")
    assert said.code == 0, said.out + said.err
    assert (out / "cube/plain-rendering.cube").is_file()
    info = read_clip(out / "clips/C002-pair.mp4")
    taken = read_clip(rushes / "C002.mov")
    assert (info.width, info.height) == (2 * taken.width + 16, taken.height)
    assert (info.matrix, info.range, info.primaries, info.transfer) == ("BT.709", "legal", "BT.709", "BT.709")
    frames = list(all_frames(info))
    assert len(frames) == 12 and len(tones(out / "clips/C002-pair.mp4")) == 1
    pixels = frames[5].pixels
    wide = (pixels.shape[1] - 16) // 2
    source = list(all_frames(taken))[5].pixels.astype(np.float64)
    sides = (("plain-rendering", pixels[:, :wide]), ("C002", pixels[:, wide + 16 :]))
    for name, side in sides:
        wanted = lookup(read_cube(out / "cube" / f"{name}.cube").lattice, np.clip(source, 0.0, 1.0))
        assert side.shape == wanted.shape and np.abs(side - wanted).mean() < 0.012, name


def test_a_timeline(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    (tmp_path / "ep1.edl").write_text(LIST)
    out = tmp_path / "out"
    said = lookwright(
        "series", look, "--timeline", tmp_path / "ep1.edl", "--media", rushes, "--anchor", "C001", "--no-marks",
        "--out", out, "--clips", "graded", "--size", "9",
    )  # fmt: skip
    assert said.code == 1
    faults = said.err.splitlines()
    assert len(faults) == 2 and "event 003 (nobody has this.mov): no file for it was found" in faults[0]
    assert "event 004 (C003.mov): uses 538.00 to 538.50 s of C003.mov, which has 0.50 s" in faults[1]
    assert "2 of 4 events were not matched and got no CDL values" in said.out
    assert "2 of 4 within" in said.out
    text = (out / "ep1.edl").read_text()
    assert "".join(x for x in text.splitlines(True) if not x.startswith("* ASC_S")) == LIST
    values = re.findall(r"\* ASC_SOP (.*)\n\* ASC_SAT (.*)\n", text)
    assert len(values) == 2
    found = read_cdl(out / "series.ccc")
    assert [c.id for c in found] == ["C001", "C002"]
    offset = re.findall(r"\((.*?)\)", values[1][0])[1].split()
    assert [float(v) for v in offset] == pytest.approx(found[1].offset, abs=1e-6)
    # The part that the event uses: six frames from the fourth of the clip on.
    graded = list(all_frames(read_clip(out / "clips/C002.mp4")))
    taken = list(all_frames(read_clip(rushes / "C002.mov")))
    assert len(graded) == 6
    lattice = read_cube(out / "cube/C002.cube").lattice
    errors = [np.abs(graded[0].pixels - lookup(lattice, np.clip(t.pixels, 0, 1).astype(float))).mean() for t in taken]
    assert int(np.argmin(errors)) == 4
    assert 0.2 < read_clip(out / "clips/C002.mp4").seconds < 0.3 and len(tones(out / "clips/C002.mp4")) == 1


# -- clips that are not as the others -------------------------------------------------------------------------------


def series(lookwright: Run, look: Path, rushes: Path, out: Path, *more: object) -> Any:
    anchor = rushes / "C001.mov"
    shots = [x for path in (anchor, rushes / "C002.mov", *more) for x in ("--shots", path)]
    return lookwright(
        "series", look, *shots, "--anchor", anchor, "--no-marks", "--out", out, "--clips", "graded", "--size", "9"
    )


def test_damaged_frames_are_named_and_the_rest_done(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    data = bytearray((rushes / "C003.mov").read_bytes())
    start = data.find(b"mdat") + 4
    rng = np.random.default_rng(4)
    size = int.from_bytes(data[start - 8 : start - 4], "big")
    for at in rng.integers(start + size // 2, start + size - 9, 24):
        data[at] ^= 0xFF
    bad = tmp_path / "C009.mov"
    bad.write_bytes(data)
    said = series(lookwright, look, rushes, tmp_path / "out", bad)
    assert said.code == 1 and said.err.count("\n") == 1 and "C009.mov: is damaged" in said.err, said.err
    assert "2 of 3 within" in said.out and "graded 2 clip(s)" in said.out
    assert "C009.mov: is damaged" in (tmp_path / "out/series.html").read_text(encoding="utf-8")


def test_a_variable_frame_rate_keeps_its_times(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    uneven = tmp_path / "phone.mov"
    ffmpeg("-i", rushes / "C003.mov", "-vf", "select='not(eq(n,3)+eq(n,4)+eq(n,8))'", "-fps_mode", "vfr",
           "-c:v", "libx264", "-crf", 6, "-pix_fmt", "yuv420p10le", uneven)  # fmt: skip
    said = series(lookwright, look, rushes, tmp_path / "out", uneven)
    assert said.code == 0, said.out + said.err
    graded, taken = (list(all_frames(read_clip(p))) for p in (tmp_path / "out/clips/phone.mp4", uneven))
    assert len(graded) == len(taken) == 9
    assert [f.seconds for f in graded] == pytest.approx([f.seconds for f in taken], abs=1e-3)


def test_a_rotated_clip_is_shown_upright(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    turned = tmp_path / "turned.mov"
    ffmpeg("-display_rotation", 90, "-i", rushes / "C002.mov", "-c", "copy", turned)
    said = series(lookwright, look, rushes, tmp_path / "out", turned)
    flat, upright = (list(all_frames(read_clip(tmp_path / "out/clips" / n)))[3] for n in ("C002.mp4", "turned.mp4"))
    assert upright.pixels.shape[0] == flat.pixels.shape[1]
    # As FFmpeg, which turns clips by itself, shows it; the other way round it would not be alike.
    ffmpeg("-i", turned, "-frames:v", 1, tmp_path / "shown.png")
    shown = read(tmp_path / "shown.png").pixels
    assert shown.shape == upright.pixels.shape
    assert np.corrcoef(shown.ravel(), upright.pixels.ravel())[0, 1] > 0.8
    assert np.corrcoef(shown[::-1, ::-1].ravel(), upright.pixels.ravel())[0, 1] < 0.5
    assert "turned" in said.out, "matched, or said not to be"


def test_a_clip_of_another_camera_is_doubted(look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    """A display picture of 8 bits among log clips of 10."""
    frames = np.clip((frames_of("close", TRUTHS[0]) - 0.1) * 1.9, 0.0, 1.0)
    other = encode(tmp_path / "P0001.mov", frames, bits=8)
    said = series(lookwright, look, rushes, tmp_path / "out", rushes / "C003.mov", other)
    assert "doubt: P0001: its bit depth is 8, that of most others is 10: another camera?" in said.err
    assert "doubt: C00" not in said.err


def test_an_untagged_clip_is_refused_until_its_matrix_is_named(
    look: Path, rushes: Path, tmp_path: Path, lookwright: Run
) -> None:
    bare = tmp_path / "bare.mov"
    ffmpeg("-i", rushes / "C003.mov", "-c", "copy", "-bsf:v",
           "h264_metadata=matrix_coefficients=2:colour_primaries=2:transfer_characteristics=2",
           "-colorspace", "unknown", bare)  # fmt: skip
    said = series(lookwright, look, rushes, tmp_path / "out", bare)
    assert said.code == 1 and "bare.mov: does not say its matrix" in said.err and "2 of 3 within" in said.out


# -- inside a clip --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def drifting(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two seconds whose exposure swings by .3 stop while they grow 20 mired warmer."""
    folder = tmp_path_factory.mktemp("drifting")
    light = moving("close", course(48, drift=0.3, mired=20.0), walker=False)
    encode(folder / "swing.mov", np.stack([LOG.from_scene(f) for f in light]))
    return folder


def levels(clip: Path) -> np.ndarray:
    """The mean of each frame's luma."""
    return np.array([np.mean(f.pixels @ (0.2126, 0.7152, 0.0722)) for f in all_frames(read_clip(clip))])


def test_a_drift_is_told_and_taken_out_when_asked(look: Path, drifting: Path, tmp_path: Path, lookwright: Run) -> None:
    out = tmp_path / "out"
    clip = drifting / "swing.mov"
    run = ["series", look, "--shots", clip, "--anchor", clip, "--no-marks", "--out", out, "--size", "17"]
    said = lookwright(*run, "--clips", "graded")
    assert re.search(r"  within swing: drifts by 0\.(28|29|3\d) stop and (1[89]|2[01]) mired", said.out), said.out
    left = levels(out / "clips/swing.mp4")
    said = lookwright(*run, "--clips", "graded", "--steady")
    assert "graded 1 clip(s)" in said.out and re.search(
        r"steadied by \d+ keyframes, which undo -0\.\d\d to [+-]0", said.out
    ), said.out
    steady = levels(out / "clips/swing.mp4")
    assert len(steady) == len(left) == 48 and np.std(left) > 0.01 and np.std(steady) < 0.1 * np.std(left)
    assert abs(steady[24] - left[24]) < 0.005, "the frame that the shot is matched by stays"
    keys = json.loads((out / "drift.json").read_text())[0]["inside"]["keyframes"]
    assert keys[0]["seconds"] == 0.0 and 3 <= len(keys) <= 16 and len(keys[0]["values"]) == 10
    page = (out / "series.html").read_text(encoding="utf-8")
    assert "steadied by" in page and page.count("ASC CDL (") == len(keys)


# -- wrong use ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "case", ["neither", "both", "media alone", "scheduler alone", "no timeline", "no shot of that name", "own input"]
)
def test_wrong_use(case: str, look: Path, rushes: Path, tmp_path: Path, lookwright: Run) -> None:
    (tmp_path / "ep1.edl").write_text(LIST)
    out, anchor, shots, words = tmp_path / "out", "C001", ["--shots", rushes], ""
    if case == "neither":
        shots, words = [], "name the shots: clips and stills with --shots, or a timeline with --timeline"
    elif case == "both":
        shots, words = ["--shots", rushes, "--timeline", tmp_path / "ep1.edl"], "(not both)"
    elif case == "media alone":
        shots, words = ["--shots", rushes, "--media", rushes], "--media and --rate are for a --timeline"
    elif case == "scheduler alone":
        shots, words = ["--shots", rushes, "--scheduler", "tcp://x:1"], "--scheduler is for grading clips"
    elif case == "no timeline":
        shots, words = ["--timeline", tmp_path / "none.edl"], "none.edl: no such file"
    elif case == "no shot of that name":
        anchor, words = "C077", "C077: no such file"
    else:
        out, shots = tmp_path, ["--timeline", tmp_path / "ep1.edl", "--media", rushes]
        words = "ep1.edl: is also read by this command, and would be written over"
    before = sorted(p.name for p in tmp_path.rglob("*"))
    said = lookwright("series", look, *shots, "--anchor", anchor, "--no-marks", "--out", out)
    assert said.code == 2 and said.out == "" and words in said.err and said.err.count("\n") == 1, said.err
    assert sorted(p.name for p in tmp_path.rglob("*")) == before, "nothing is left behind"


@pytest.fixture
def without_the_extra(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    import sys

    monkeypatch.setitem(sys.modules, "opentimelineio", None)
    yield


def test_without_the_extra(look: Path, rushes: Path, tmp_path: Path, lookwright: Run, without_the_extra: None) -> None:
    (tmp_path / "ep1.edl").write_text(LIST)
    said = lookwright("series", look, "--timeline", tmp_path / "ep1.edl", "--anchor", "C001", "--out", tmp_path / "out")
    assert said.code == 2 and "the extra 'timeline' is not installed" in said.err and "[timeline]" in said.err
