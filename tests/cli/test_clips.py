"""``lookwright frames`` and ``lookwright clip`` as a user meets them."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from lookwright.colour.spaces.library import colour_library
from lookwright.installed import how_to_get
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.read import read_look
from lookwright.pictures.stills import read, write

imageio_ffmpeg = pytest.importorskip("imageio_ffmpeg")
if not os.environ.get("CI"):
    pytest.importorskip("av")  # in CI its absence is a fault

Run = Callable[..., object]


def make(path: Path, crop: np.ndarray, tags: str = "colorspace=bt709:range=tv") -> Path:
    """A second of the workshop in ACEScct: Y'CbCr by colour-science, 10-bit 4:4:4 H.264 without loss by FFmpeg."""
    colour = colour_library()
    moved = np.stack([np.roll(crop, 5 * n, axis=1) for n in range(12)])
    codes = colour.RGB_to_YCbCr(
        moved, K=colour.WEIGHTS_YCBCR["ITU-R BT.709"], in_legal=False, out_bits=10, out_legal=True, out_int=True
    )
    planes = np.moveaxis(codes, 3, 1).astype("<u2")
    subprocess.run(
        [
            imageio_ffmpeg.get_ffmpeg_exe(),
            "-v",
            "error",
            "-f",
            "rawvideo",
            "-pix_fmt",
            "yuv444p10le",
            "-s",
            "160x90",
            "-r",
            "12",
            "-i",
            "-",
            "-vf",
            f"setparams={tags}",
            "-c:v",
            "libx264",
            "-qp",
            "0",
            "-preset",
            "ultrafast",
            str(path),
        ],
        input=planes.tobytes(),
        check=True,
        timeout=60,
    )
    return path


@pytest.fixture
def clip(tmp_path: Path, crop: np.ndarray) -> Path:
    return make(tmp_path / "bench.mp4", crop)


def test_frames_at_times(clip: Path, tmp_path: Path, crop: np.ndarray, lookwright: Run) -> None:
    out = tmp_path / "stills"
    said = lookwright("frames", clip, "--at", "0:00.5", "--at", "0", "--out", out)
    assert said.code == 0 and said.err == ""
    assert said.out.splitlines()[0] == (
        "bench.mp4: 160x90, h264, yuv444p10le, BT.709 matrix, legal range, 12 frames a second"
    )
    assert sorted(p.name for p in out.iterdir()) == ["bench_00h00m00s000.png", "bench_00h00m00s500.png"]
    still = read(out / "bench_00h00m00s500.png")
    assert still.depth == "16"
    # 10-bit codes of luma and chroma, rounded: up to 1.4 codes of a channel.
    np.testing.assert_allclose(still.pixels, np.roll(crop, 30, axis=1), rtol=0, atol=2.0 / 1023.0)
    assert "levels expand" in still.metadata["ImageDescription"]


def test_frames_each_so_many_seconds_and_json(clip: Path, tmp_path: Path, lookwright: Run) -> None:
    said = lookwright(
        "frames", clip, "--every", "0.25", "--out", tmp_path / "s", "--format", "dpx", "--json", "--encoding", "ACEScct"
    )
    assert said.code == 0 and said.err == ""
    data = json.loads(said.out)
    assert [s["seconds"] for s in data["stills"]] == [0.0, 0.25, 0.5, 0.75]
    assert data["clip"]["matrix"] == "BT.709" and data["doubts"] == []
    assert read(tmp_path / "s" / "bench_00h00m00s250.dpx").depth == "10"


def test_levels_kept(clip: Path, tmp_path: Path, crop: np.ndarray, lookwright: Run) -> None:
    lookwright("frames", clip, "--at", "0", "--out", tmp_path, "--levels", "keep", "--quiet")
    kept = read(tmp_path / "bench_00h00m00s000.png").pixels
    np.testing.assert_allclose(kept, (crop * 876.0 + 64.0) / 1023.0, rtol=0, atol=2.0 / 1023.0)


def test_a_range_mix_up_is_told(tmp_path: Path, crop: np.ndarray, lookwright: Run) -> None:
    """ACEScct in legal range, tagged full. Black is where legal range puts it, so the frame gets one."""
    black = crop.copy()
    black[:8] = 0.0729055341958355  # ACEScct of 0, S-2016-001
    path = make(tmp_path / "mixed.mp4", black, "colorspace=bt709:range=pc")
    said = lookwright("frames", path, "--at", "0", "--out", tmp_path, "--encoding", "ACEScct")
    assert said.code == 0 and "doubt: mixed_00h00m00s000.png" in said.out and "legal range" in said.out
    said = lookwright("frames", path, "--at", "0", "--out", tmp_path, "--encoding", "ACEScct", "--range", "legal")
    assert "doubt" not in said.out and "read as legal range, though the file says full" in said.out


def test_an_untagged_clip(tmp_path: Path, crop: np.ndarray, lookwright: Run) -> None:
    path = make(tmp_path / "plain.mp4", crop, "colorspace=unknown:range=unknown")
    said = lookwright("frames", path, "--at", "0", "--out", tmp_path / "s")
    assert said.code == 2 and said.err.count("\n") == 1 and "--matrix" in said.err
    assert not (tmp_path / "s").exists()
    said = lookwright("frames", path, "--at", "0", "--out", tmp_path / "s", "--matrix", "bt.709")
    assert said.code == 0 and "does not say its range; read as legal" in said.out


def test_the_bench_refuses_an_untagged_clip_with_an_option_that_it_has(
    tmp_path: Path, crop: np.ndarray, look: Path, lookwright: Run
) -> None:
    path = make(tmp_path / "plain.mp4", crop, "colorspace=unknown:range=unknown")
    write(tmp_path / "still.png", crop)
    asked = ("bench", look, "--stills", tmp_path / "still.png", "--clip", path, "--no-open")
    said = lookwright(*asked)
    assert said.code == 2 and said.err.count("\n") == 1
    option = said.err.split("state it with ")[1].split(";")[0]
    assert option == "--matrix" and option in lookwright("bench", "--help").out
    # Named, it is past that: what is refused then is the port.
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        said = lookwright(*asked, option, "BT.709", "--port", port)
    assert said.code == 2 and "matrix" not in said.err and port in said.err


def test_graded_clip(clip: Path, look: Path, tmp_path: Path, crop: np.ndarray, lookwright: Run) -> None:
    out = tmp_path / "graded.mp4"
    said = lookwright("clip", look, clip, "--out", out, "--quality", "0", "--depth", "10", "--from", "0.25")
    assert said.code == 0 and said.err == "", said.err
    assert said.out.splitlines()[-1] == (
        f"wrote 9 frames to {out}: BT.1886, BT.709 primaries, BT.709 matrix, legal range"
    )
    lookwright("frames", clip, "--at", "0.25", "--out", tmp_path, "--quiet")
    fed = read(tmp_path / "bench_00h00m00s250.png").pixels
    lookwright("frames", out, "--at", "0", "--out", tmp_path, "--quiet")
    back = read(tmp_path / "graded_00h00m00s000.png").pixels
    expected = View(read_look(look)).graded(fed)
    difference = np.abs(back - expected)
    # Nothing is lost but half of the chroma's detail, each way: luma stays.
    luma = np.abs((back - expected) @ np.array([0.2126, 0.7152, 0.0722]))
    assert luma.max() < 0.02 and np.median(luma) < 1.0 / 1023.0 and difference.mean() < 0.01


def test_a_look_fed_legal_gets_the_codes_as_they_are(clip: Path, look: Path, tmp_path: Path, lookwright: Run) -> None:
    """The same picture, whether the clip is expanded for a full-range look or fed as it is to a legal-range one."""
    legal = tmp_path / "legal.toml"
    legal.write_text(look.read_text().replace('encoding = "ACEScct"', 'encoding = "ACEScct"\nrange = "legal"', 1))
    pictures = []
    for path in (look, legal):
        out = tmp_path / f"{path.stem}.mp4"
        said = lookwright("clip", path, clip, "--out", out, "--quality", "0", "--to", "0.1", "--size", "65", "--quiet")
        assert (said.code, said.out, said.err) == (0, "", "")
        lookwright("frames", out, "--at", "0", "--out", tmp_path, "--quiet")
        pictures.append(read(tmp_path / f"{path.stem}_00h00m00s000.png").pixels)
    # Two lattices sampled at other places, and 8 bits.
    assert np.abs(pictures[0] - pictures[1]).max() < 4.0 / 255.0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["frames", "CLIP", "--out", "s"], "say which frames"),
        (["frames", "CLIP", "--at", "1", "--every", "2", "--out", "s"], "say which frames"),
        (["frames", "CLIP", "--every", "0", "--out", "s"], "--every must be more than 0"),
        (["frames", "CLIP", "--at", "1:75", "--out", "s"], "is not a time"),
        (["frames", "CLIP", "--at", "nan", "--out", "s"], "is not a time"),
        (["frames", "CLIP", "--at", "9", "--out", "s"], "no frame at 9 s; expected 0 to 0.917 s"),
        (["frames", "CLIP", "--at", "0", "--out", "s", "--encoding", "S-Lg3"], "did you mean"),
        (["frames", "none.mov", "--at", "0", "--out", "s"], "none.mov: no such file"),
        (["frames", "LOOK", "--at", "0", "--out", "s"], "cannot be read as a clip"),
        (["frames", "CUT", "--at", "0", "--out", "s"], "cannot be read as a clip"),
        (["clip", "LOOK", "CLIP", "--out", "s.mov"], "expected a name ending in .mp4"),
        (["clip", "LOOK", "CLIP", "--out", "none/s.mp4"], "the folder does not exist"),
        (["clip", "LOOK", "CLIP", "--out", "s.mp4", "--from", "2", "--to", "1"], "--to must be later"),
        (["clip", "LOOK", "CLIP", "--out", "s.mp4", "--from", "5"], "ends at 1.000 s, before 5 s"),
    ],
)
def test_wrong_use(
    arguments: list[str],
    words: str,
    clip: Path,
    look: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    lookwright: Run,
) -> None:
    monkeypatch.chdir(tmp_path)
    cut = tmp_path / "cut.mp4"
    cut.write_bytes(clip.read_bytes()[:3000])
    places = {"CLIP": clip, "LOOK": look, "CUT": cut}
    said = lookwright(*[places.get(a, a) for a in arguments])
    assert said.code == 2 and said.out == "" and words in said.err and said.err.count("\n") == 1, said.err
    assert not Path("s").exists() and not Path("s.mp4").exists()


def test_without_the_extra(clip: Path, look: Path, tmp_path: Path) -> None:
    code = "import sys; sys.modules['av'] = None; from lookwright.app.cli import main; main(sys.argv[1:])"
    for arguments in (["frames", clip, "--at", "0", "--out", tmp_path], ["clip", look, clip, "--out", "x.mp4"]):
        done = subprocess.run(
            [sys.executable, "-c", code, *map(str, arguments)], capture_output=True, cwd=tmp_path, timeout=60
        )
        assert done.returncode == 2 and done.stdout == b""
        assert done.stderr.decode() == (
            f"lookwright: clips: the extra 'clips' is not installed; {how_to_get('clips')}\n"
        )


def test_a_log_lut_on_a_clip(clip: Path, tmp_path: Path, lookwright: Run) -> None:
    """The file as it is, and behind it the plain rendering on 65 points: that of single pictures does a megapixel a
    second. The note says so."""
    from lookwright.lut.formats.cdl import Correction, write_cdl

    path = tmp_path / "shots.ccc"
    write_cdl(path, [Correction(id="a"), Correction((0.8, 0.9, 1.1), (0.02, 0.0, 0.0), (1.1, 1.0, 0.9), 0.7, "b")])
    given = ("--source", "ACEScct", "--output", "ACEScct", "--correction", "b")
    out = tmp_path / "graded.mp4"
    said = lookwright("clip", path, clip, *given, "--out", out, "--quality", "0", "--depth", "10", "--to", "0.1")
    assert said.code == 0 and "shown through the plain rendering on 65 points" in said.out, said.err
    lookwright("frames", clip, "--at", "0", "--out", tmp_path, "--quiet")
    lookwright("frames", out, "--at", "0", "--out", tmp_path, "--quiet")
    still = tmp_path / "bench_00h00m00s000.png"
    said = lookwright("preview", path, *given, "--stills", still, "--out", tmp_path / "o", "--format", "png")
    assert said.code == 0, said.err
    back, exact = (read(p).pixels for p in (tmp_path / "graded_00h00m00s000.png", *(tmp_path / "o").glob("*.png")))
    luma = np.abs((back - exact) @ np.array([0.2126, 0.7152, 0.0722]))
    # As for a look above: 10 bits, and half of the chroma's detail.
    assert luma.max() < 0.02 and np.median(luma) < 1.0 / 1023.0
