"""Clips that are damaged, cut short, no clips at all, or asked for frames in ways that cannot be."""

from __future__ import annotations

import os
import random
import resource
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from lookwright.errors import PictureError
from lookwright.pictures.stills import read

imageio_ffmpeg = pytest.importorskip("imageio_ffmpeg")
if not os.environ.get("CI"):
    pytest.importorskip("av")  # in CI its absence is a fault

from lookwright.pictures.clips.read import all_frames, frames_at, frames_each, read_clip  # noqa: E402

SAMPLES = Path(__file__).parents[2] / "sample_images"
WIDTH, HEIGHT, FRAMES = 320, 180, 48
BT709 = "scale=out_color_matrix=bt709,setparams=colorspace=bt709:range=tv"


def encode(path: Path, *options: object, rate: int = 24, frames: int = FRAMES, size: int = 1) -> Path:
    """A pan over a sample still with a camera's noise, by FFmpeg."""
    noise = np.random.default_rng(1)
    still = read(SAMPLES / "close_acescct.png").pixels
    moved = [still[90 + n : 90 + n + HEIGHT * 2 : 2, 100 + 3 * n : 100 + 3 * n + WIDTH * 2 : 2] for n in range(frames)]
    data = b"".join(
        (f * 255.0 + noise.normal(0.0, 1.5, f.shape)).clip(0, 255).astype(np.uint8).tobytes() for f in moved
    )
    head = ["-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{WIDTH}x{HEIGHT}", "-r", rate, "-i", "-"]
    scaled = f"scale={WIDTH * size}:{HEIGHT * size},{BT709}"
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *head, "-vf", scaled, "-pix_fmt", "yuv420p"]
    subprocess.run([*map(str, [*command, *options, path])], input=data, check=True, timeout=120)
    return path


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return encode(tmp_path_factory.mktemp("clips") / "take.mp4", "-c:v", "libx264", "-g", 12, "-crf", 18)


class Said(NamedTuple):
    code: int
    out: str
    err: str


def lookwright(*arguments: object, seconds: float = 60.0, mib: int = 3000) -> Said:
    """The command in a process of its own, within bounds of time and memory."""

    def bounded() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (mib << 20, mib << 20))

    words = [a if isinstance(a, bytes) else str(a) for a in arguments]
    command = [sys.executable, "-m", "lookwright", *words]
    done = subprocess.run(command, capture_output=True, timeout=seconds, preexec_fn=bounded, check=False)
    return Said(done.returncode, done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace"))


def refused(said: Said, *words: str) -> None:
    """Exit 2 and one line, which has every one of ``words``."""
    assert said.code == 2 and said.out == "", said
    assert said.err.startswith("lookwright: ") and said.err.count("\n") == 1, said.err
    for word in words:
        assert word in said.err, said.err


def flipped(clip: Path, target: Path, seed: int, bits: int) -> Path:
    """A copy with so many bits of its picture data turned over, the first frame's headers aside."""
    data = bytearray(clip.read_bytes())
    at = data.index(b"mdat")
    end = at - 4 + int.from_bytes(data[at - 4 : at], "big")
    chance = random.Random(seed)
    for _ in range(bits):
        data[chance.randrange(at + 2000, end)] ^= 1 << chance.randrange(8)
    target.write_bytes(data)
    return target


@pytest.mark.parametrize("coder", ["cabac", "cavlc"])
def test_a_dozen_flipped_bits_are_never_passed_on(coder: str, tmp_path: Path) -> None:
    """Refused, every time: with FFmpeg's defaults all of these are read without a word, most frames wrong."""
    more = [] if coder == "cabac" else ["-profile:v", "baseline"]
    clip = encode(tmp_path / "take.mp4", "-c:v", "libx264", "-g", 12, "-crf", 18, *more)
    assert len(list(frames_each(read_clip(clip), 0.25))) == 8
    for seed in range(20):
        bad = read_clip(flipped(clip, tmp_path / "bad.mp4", seed, 12))
        with pytest.raises(PictureError, match=r"bad\.mp4: is damaged (about \d|near its end)"):
            list(frames_each(bad, 0.25))


def test_a_damaged_clip_leaves_nothing_behind(sound: Path, tmp_path: Path) -> None:
    bad = flipped(sound, tmp_path / "bad.mp4", 3, 12)
    refused(lookwright("frames", bad, "--every", "0.25", "--out", tmp_path / "s"), "is damaged", "copy it again")
    assert not (tmp_path / "s").exists()


def test_a_sound_clip_of_any_make_passes(tmp_path: Path) -> None:
    """Strictness must not refuse what is whole: open groups, B-frames, intra refresh, other codecs, odd starts."""
    makes = {
        "open": ["-c:v", "libx264", "-g", 12, "-bf", 3, "-flags", "-cgop", "-x264-params", "open-gop=1"],
        "interlaced": ["-c:v", "libx264", "-g", 12, "-flags", "+ildct+ilme", "-x264-params", "tff=1"],
        "hevc": ["-c:v", "libx265", "-g", 12, "-x265-params", "log-level=none:open-gop=1"],
        "part2": ["-c:v", "mpeg4", "-g", 12, "-bf", 2, "-q:v", 3],
        "fragments": ["-c:v", "libx264", "-g", 12, "-movflags", "frag_keyframe+empty_moov"],
        "prores": ["-c:v", "prores_ks", "-pix_fmt", "yuv422p10le"],
    }
    for name, options in makes.items():
        clip = read_clip(encode(tmp_path / f"{name}.mov", *options), "BT.709")
        assert len(list(all_frames(clip))) == FRAMES, name
        assert [round(f.seconds, 3) for f in frames_at(clip, [0.0, 1.0, 1.5])] == [0.0, 1.0, 1.5], name
    # Cut out of the middle without encoding anew: it begins with an open group whose first frames lean on nothing.
    cut = tmp_path / "cut.mov"
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-ss", "0.7", "-i", tmp_path / "open.mov", "-c", "copy"]
    subprocess.run([*map(str, [*command, cut])], check=True, timeout=60)
    assert len(list(all_frames(read_clip(cut)))) >= 24


def test_half_a_clip(sound: Path, tmp_path: Path) -> None:
    half = tmp_path / "half.mp4"
    half.write_bytes(sound.read_bytes()[: sound.stat().st_size // 2])
    refused(
        lookwright("frames", half, "--at", "0", "--out", tmp_path / "s"), "cut short: its table of frames is missing"
    )
    first = encode(tmp_path / "first.mp4", "-c:v", "libx264", "-g", 12, "-movflags", "faststart")
    half.write_bytes(first.read_bytes()[: first.stat().st_size // 2])
    refused(lookwright("frames", half, "--at", "0", "--out", tmp_path / "s"), "of its 48 frames are missing", "copy it")


def test_a_clip_that_changes_its_size(tmp_path: Path) -> None:
    """Two sizes in one track, as FFmpeg joins them without encoding anew."""
    parts = [encode(tmp_path / f"{n}.ts", "-c:v", "libx264", "-g", 12, size=n) for n in (1, 2)]
    joined = tmp_path / "joined.ts"
    joined.write_bytes(b"".join(p.read_bytes() for p in parts))
    both = tmp_path / "both.mp4"
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", joined, "-c", "copy", both]
    subprocess.run([*map(str, command)], check=False, capture_output=True, timeout=60)
    look = SAMPLES.parent / "looks" / "overcast.toml"
    said = lookwright("clip", look, both, "--out", tmp_path / "g.mp4")
    refused(said, "changes its size from 320x180 to 640x360 at 2.0", "cut it there")
    assert not (tmp_path / "g.mp4").exists()


def test_no_two_frames_under_one_name(sound: Path, tmp_path: Path) -> None:
    said = lookwright("frames", sound, "--at", "0", "--at", "0.0001", "--out", tmp_path / "a")
    assert said.code == 0 and said.out.splitlines()[-1].startswith("wrote 1 still(s)")
    said = lookwright("frames", sound, "--every", "0.001", "--out", tmp_path / "b", "--format", "dpx")
    assert said.code == 0 and said.out.splitlines()[-1].startswith("wrote 48 still(s)")
    assert len(list((tmp_path / "b").iterdir())) == 48
    fast = encode(tmp_path / "fast.mp4", "-c:v", "libx264", "-video_track_timescale", 2000, rate=2000, frames=20)
    said = lookwright("frames", fast, "--every", "0.0005", "--out", tmp_path / "c", "--format", "dpx")
    assert said.code == 0, said
    assert sorted(p.name for p in (tmp_path / "c").iterdir())[:2] == [
        "fast_00h00m00s000000.dpx",
        "fast_00h00m00s000500.dpx",
    ]
    assert len(list((tmp_path / "c").iterdir())) == 20


def test_a_step_far_below_a_frame_costs_no_memory(sound: Path, tmp_path: Path) -> None:
    """A list of such times took 7 GB."""
    said = lookwright("frames", sound, "--every", "1e-9", "--out", tmp_path / "s", "--format", "dpx")
    assert said.code == 0 and len(list((tmp_path / "s").iterdir())) == 48, said


def test_times_beyond_all_clips(sound: Path, tmp_path: Path) -> None:
    look = SAMPLES.parent / "looks" / "overcast.toml"
    for time in ("1e18", "1e300", "3"):
        said = lookwright("frames", sound, "--at", time, "--out", tmp_path / "s")
        refused(said, f"no frame at {float(time):g} s; expected 0 to 1.958 s")
        said = lookwright("clip", look, sound, "--from", time, "--out", tmp_path / "g.mp4")
        refused(said, f"ends at 2.000 s, before {float(time):g} s")
    assert [p.name for p in tmp_path.iterdir()] == []


def test_a_list_of_other_files_is_no_clip(sound: Path, tmp_path: Path) -> None:
    os.symlink(sound, tmp_path / "secret.mp4")
    lists = {
        "concat": "ffconcat version 1.0\nfile secret.mp4\n",
        "playlist": "#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:2,\nsecret.mp4\n#EXT-X-ENDLIST\n",
        "dash": '<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011"><Period/></MPD>',
    }
    for name, text in lists.items():
        (tmp_path / f"{name}.mp4").write_text(text)
        said = lookwright("frames", tmp_path / f"{name}.mp4", "--at", "0", "--out", tmp_path / "s")
        refused(said, f"{name}.mp4: cannot be read as a clip", "expected a whole .mov or .mp4 file")


def test_what_is_no_file_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.mp4")
    os.symlink("/dev/zero", tmp_path / "zero.mp4")
    for name in ("pipe.mp4", "zero.mp4"):
        said = lookwright("frames", tmp_path / name, "--at", "0", "--out", tmp_path / "s", seconds=20)
        refused(said, f"{name}: this is a pipe or device, not a clip")
    refused(lookwright("frames", tmp_path, "--at", "0", "--out", tmp_path / "s"), "this is a folder, not a clip")


def test_a_name_that_is_no_utf8(sound: Path, tmp_path: Path) -> None:
    name = os.fsencode(tmp_path) + b"/take\xff.mp4"
    os.link(sound, name)
    refused(lookwright("frames", name, "--at", "0", "--out", tmp_path / "s"), "the name is not valid UTF-8", "rename")
