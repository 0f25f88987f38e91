"""Clips against FFmpeg's command line (made by it, and read by it) and against colour-science's matrices."""

from __future__ import annotations

import itertools
import os
import re
import subprocess
import threading
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from lookwright.assess.measure.plausible_clip import clip_findings
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.ranges import to_full
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import sample
from lookwright.pictures.stills import read

imageio_ffmpeg = pytest.importorskip("imageio_ffmpeg")
if not os.environ.get("CI"):
    pytest.importorskip("av")  # in CI its absence is a fault

from lookwright.pictures.clips.codes import GradedFrame, Grading, ahead, all_codes  # noqa: E402
from lookwright.pictures.clips.colour import Levels, Range, to_legal_codes, to_rgb  # noqa: E402
from lookwright.pictures.clips.read import FLAGS, ClipFrame, all_frames, frames_at, read_clip, rgb_from_wide_codes  # noqa: E402
from lookwright.pictures.clips.write import tags_for, write_clip  # noqa: E402

SAMPLES = Path(__file__).parents[2] / "sample_images"
WIDTH, HEIGHT = 160, 90
UNTAGGED = "colorspace=unknown:range=unknown:color_primaries=unknown:color_trc=unknown"


def ffmpeg(*arguments: object, data: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *map(str, arguments)]
    return subprocess.run(command, input=data, capture_output=True, check=True, timeout=60)


def picture(still: str = "close") -> np.ndarray:
    """A sample still at 160x90, ACEScct codes as 16-bit whole numbers."""
    pixels = read(SAMPLES / f"{still}_acescct.png").pixels[::12, ::12]
    assert pixels.shape == (HEIGHT, WIDTH, 3)
    return np.rint(pixels * 65535.0).astype("<u2")


def make(
    path: Path,
    pixel_format: str,
    codec: list[str],
    matrix: str = "bt709",
    range_: str = "tv",
    frames: list[np.ndarray] | None = None,
    tagged: str = "",
) -> Path:
    """A clip of 16-bit R'G'B' frames, 24 a second, by FFmpeg; ``tagged`` as it was made, or otherwise."""
    frames = [np.roll(picture(), 9 * n, axis=1) for n in range(5)] if frames is None else frames
    tagged = tagged or f"colorspace={matrix}:range={range_}:color_primaries=bt709:color_trc=bt709"
    scale = f"scale=out_color_matrix={matrix}:out_range={range_}:flags={FLAGS},format={pixel_format},setparams={tagged}"
    if pixel_format.startswith(("gbr", "rgb")):
        scale = f"format={pixel_format}"
    ffmpeg(
        "-f",
        "rawvideo",
        "-pix_fmt",
        "rgb48le",
        "-s",
        f"{WIDTH}x{HEIGHT}",
        "-r",
        24,
        "-i",
        "-",
        "-vf",
        scale,
        *codec,
        path,
        data=b"".join(f.tobytes() for f in frames),
    )
    return path


PRORES = ["-c:v", "prores_ks", "-profile:v", "3"]
LOSSLESS = ["-c:v", "libx264", "-qp", "0", "-preset", "ultrafast"]
KINDS = {
    "10-bit 4:2:2 .mov": ("c.mov", "yuv422p10le", PRORES, "bt709", "tv"),
    "10-bit 4:2:0 .mp4": ("c.mp4", "yuv420p10le", LOSSLESS, "bt709", "tv"),
    "10-bit 4:4:4 .mov": ("c.mov", "yuv444p10le", ["-c:v", "prores_ks", "-profile:v", "4"], "bt709", "tv"),
    "10-bit 4:2:2 BT.2020": ("c.mp4", "yuv422p10le", LOSSLESS, "bt2020nc", "tv"),
    "10-bit 4:2:0 full": ("c.mp4", "yuv420p10le", LOSSLESS, "bt709", "pc"),
    "8-bit 4:2:0": ("c.mp4", "yuv420p", LOSSLESS, "bt709", "tv"),
    "8-bit 4:2:0 full": ("c.mp4", "yuvj420p", LOSSLESS, "bt709", "pc"),
}


@pytest.mark.parametrize("kind", KINDS)
def test_codes_equal_ffmpegs_raw_16_bit_frames(kind: str, tmp_path: Path) -> None:
    """To the last code: the 16-bit Y'CbCr 4:4:4 that FFmpeg's command line writes for the same frame."""
    import av

    from lookwright.pictures.clips.read import full_size_codes

    name, pixel_format, codec, matrix, range_ = KINDS[kind]
    path = make(tmp_path / name, pixel_format, codec, matrix, range_)
    more = f":in_range={range_}:out_range={range_}"
    raw = ffmpeg("-i", path, "-vf", f"scale=flags={FLAGS}{more},format=yuv444p16le", "-f", "rawvideo", "-").stdout
    theirs = np.frombuffer(raw, "<u2").reshape(-1, 3, HEIGHT, WIDTH).transpose(0, 2, 3, 1)
    with av.open(str(path)) as container:
        ours = [full_size_codes(frame) for frame in container.decode(video=0)]
    assert len(ours) == len(theirs) == 5
    for a, b in zip(ours, theirs, strict=True):
        np.testing.assert_array_equal(a, b)
    native = ffmpeg("-i", path, "-f", "rawvideo", "-").stdout
    if "444" in pixel_format:
        return  # the same again
    depth = "<u2" if "10" in pixel_format else "u1"
    luma = np.frombuffer(native, depth)[: WIDTH * HEIGHT].reshape(HEIGHT, WIDTH)
    shift = 6 if "10" in pixel_format else 8
    np.testing.assert_array_equal(ours[0][..., 0] >> shift, luma)
    np.testing.assert_array_equal(ours[0][..., 0] & ((1 << shift) - 1), 0)


@pytest.mark.parametrize("kind", KINDS)
def test_rgb_by_colour_sciences_matrices(kind: str, tmp_path: Path) -> None:
    """The R'G'B' of a frame from FFmpeg's raw Y'CbCr, by colour-science's YCbCr_to_RGB."""
    name, pixel_format, codec, matrix, range_ = KINDS[kind]
    path = make(tmp_path / name, pixel_format, codec, matrix, range_)
    more = f":in_range={range_}:out_range={range_}"
    raw = ffmpeg(
        "-i", path, "-frames:v", 1, "-vf", f"scale=flags={FLAGS}{more},format=yuv444p16le", "-f", "rawvideo", "-"
    ).stdout
    codes = np.frombuffer(raw, "<u2").reshape(3, HEIGHT, WIDTH).transpose(1, 2, 0).astype(np.float64)
    colour = colour_library()
    bits = 12 if "444" in pixel_format else 10 if "10" in pixel_format else 8  # ProRes 4444 is decoded to 12
    weights = colour.WEIGHTS_YCBCR["ITU-R BT.2020" if matrix == "bt2020nc" else "ITU-R BT.709"]
    expected = colour.YCbCr_to_RGB(
        codes / 2.0 ** (16 - bits),
        K=weights,
        in_bits=bits,
        in_legal=range_ == "tv",
        in_int=True,
        out_bits=bits,
        out_legal=False,
        out_int=False,
    )
    clip = read_clip(path)
    assert clip.range == ("legal" if range_ == "tv" else "full") and clip.notes == ()
    assert clip.matrix == ("BT.2020" if matrix == "bt2020nc" else "BT.709") and clip.bits == bits
    ours = next(frames_at(clip, [0.0])).pixels
    # float32 of numbers near 1
    np.testing.assert_allclose(ours, expected, rtol=0, atol=1.5e-7)
    # And the picture that went in comes back: half a code of each channel, which the matrix adds up to 1.5 codes.
    # Only in 4:4:4: chroma at half the width loses edges.
    if "444" in pixel_format:
        assert np.abs(ours - picture() / 65535.0).mean() < 2.0 / 1023.0, "ProRes 4444 is near lossless, not lossless"


def test_rgb_clip(tmp_path: Path) -> None:
    """R'G'B' needs no matrix: a lossless 10-bit one gives every code back."""
    codes = np.arange(WIDTH * HEIGHT * 3).reshape(HEIGHT, WIDTH, 3) % 1024
    frame = ((codes << 6) | (codes >> 4)).astype("<u2")
    path = make(tmp_path / "c.mkv", "gbrp10le", ["-c:v", "ffv1"], frames=[frame])
    clip = read_clip(path)
    assert clip.rgb and clip.matrix == "" and clip.range == "full"
    ours = next(frames_at(clip, [0.0])).pixels
    np.testing.assert_allclose(ours, codes / 1023.0, rtol=0, atol=1e-7)


@pytest.mark.parametrize(("range_", "matrix"), [("legal", "BT.709"), ("legal", "BT.2020"), ("full", "BT.601")])
@pytest.mark.parametrize("bits", [8, 10, 12])
def test_ends_of_the_range(range_: str, matrix: str, bits: int) -> None:
    """Black, white and a grey between, at the codes that BT.709-6 item 4.6 and BT.2100-3 table 9 print for 10 bits."""
    scale = 2 ** (bits - 8)
    black, white, middle = (16, 235, 128) if range_ == "legal" else (0, (2**bits - 1) / scale, 128)
    codes = np.array([[black, middle, middle], [white, middle, middle]], np.float64) * scale
    np.testing.assert_allclose(to_rgb(codes, bits, matrix, range_), [[0.0] * 3, [1.0] * 3], rtol=0, atol=1e-12)
    kept = to_rgb(codes, bits, matrix, range_, "keep")
    ends = [64.0 / 1023.0, 940.0 / 1023.0] if range_ == "legal" else [0.0, 1.0]
    np.testing.assert_allclose(kept[:, 0], ends, rtol=0, atol=1e-12)


def test_what_lies_beyond_white_survives() -> None:
    """Legal code 1000 is brighter than white: above 1 expanded, and still below 1 when levels are kept."""
    code = np.array([1000.0, 512.0, 512.0])
    assert to_rgb(code, 10, "BT.709", "legal")[0] == pytest.approx((1000 - 64) / 876)
    assert to_rgb(code, 10, "BT.709", "legal", "keep")[0] == pytest.approx(1000 / 1023)


@pytest.mark.parametrize("matrix", ["BT.709", "BT.2020", "BT.601"])
def test_there_and_back(matrix: str) -> None:
    rgb = np.random.default_rng(1).uniform(0, 1, (500, 3))
    np.testing.assert_allclose(to_rgb(to_legal_codes(rgb, 10, matrix), 10, matrix, "legal"), rgb, rtol=0, atol=1e-12)


def test_times(tmp_path: Path) -> None:
    """The frame shown at a time; in order, whatever the order asked for; the last one is there, beyond it is none."""
    frames = [np.full((HEIGHT, WIDTH, 3), (n + 1) * 2000, "<u2") for n in range(24)]
    path = make(tmp_path / "c.mp4", "yuv420p10le", [*LOSSLESS, "-g", "6"], frames=frames)
    clip = read_clip(path)
    assert clip.seconds == pytest.approx(1.0) and clip.rate == Fraction(24)
    shown = frames_at(clip, [0.9583, 0, 0.5, 0.52])
    found = [(f.seconds, round(float(f.pixels.mean()) * 65535 / 2000) - 1) for f in shown]
    assert found == [(0.0, 0), (0.5, 12), (pytest.approx(23 / 24), 23)]  # 0.52 is in the frame of 0.5
    assert [round(f.seconds * 24) for f in all_frames(clip, 0.25, 0.5)] == [6, 7, 8, 9, 10, 11]
    for time in (1.1, -0.5, 40.0):
        with pytest.raises(PictureError, match="no frame at"):
            list(frames_at(clip, [time]))


def test_a_far_time_is_reached_by_a_jump(tmp_path: Path) -> None:
    frames = [np.full((HEIGHT, WIDTH, 3), (n % 60 + 1) * 1000, "<u2") for n in range(240)]
    path = make(tmp_path / "c.mp4", "yuv420p10le", [*LOSSLESS, "-g", "24"], frames=frames)
    found = list(frames_at(read_clip(path), [0.0, 9.0, 9.5]))
    levels = [round(float(f.pixels.mean()) * 65535 / 1000) - 1 for f in found]
    assert levels == [0, 216 % 60, 228 % 60] and [round(f.seconds * 24) for f in found] == [0, 216, 228]
    assert round(next(all_frames(read_clip(path), 8.0)).seconds * 24) == 192


def test_untagged_is_refused_or_said(tmp_path: Path) -> None:
    path = make(tmp_path / "c.mp4", "yuv420p10le", LOSSLESS, tagged=UNTAGGED)
    with pytest.raises(PictureError, match=r"does not say its matrix.*--matrix"):
        read_clip(path)
    clip = read_clip(path, "BT.709")
    assert clip.range == "legal" and "does not say its range" in clip.notes[0]
    assert read_clip(path, "BT.709", "full").notes == ()


def test_a_tag_overruled_is_said(tmp_path: Path) -> None:
    path = make(tmp_path / "c.mp4", "yuv420p10le", LOSSLESS)
    notes = read_clip(path, "BT.601", "full").notes
    assert notes == (
        "read with the BT.601 matrix, though the file says BT.709",
        "read as full range, though the file says legal",
    )


def display_picture() -> np.ndarray:
    """The sample still as a display picture with true black and white in it, as titles and bars put them there."""
    from lookwright.assess.measure.levels import display_light

    codes = picture() / 65535.0
    shown = np.clip(Signal.named("BT.1886").from_light(display_light(codes, Signal.named("ACEScct"))), 0.0, 1.0)
    shown[:6], shown[-6:] = 0.0, 1.0
    return np.rint(shown * 65535.0).astype("<u2")


@pytest.mark.parametrize(("made", "tagged", "noticed"), [("tv", "pc", "legal range"), ("pc", "tv", "full range")])
def test_a_mix_up_of_ranges_is_noticed(made: str, tagged: str, noticed: str, tmp_path: Path) -> None:
    right = make(tmp_path / "right.mp4", "yuv420p10le", LOSSLESS, range_=made, frames=[display_picture()] * 2)
    wrong = make(
        tmp_path / "wrong.mp4",
        "yuv420p10le",
        LOSSLESS,
        range_=made,
        frames=[display_picture()] * 2,
        tagged=f"colorspace=bt709:range={tagged}",
    )
    found = {}
    for path in (right, wrong):
        clip = read_clip(path)
        signal = Signal.named("BT.1886", None, "legal" if clip.range == "legal" else "full")
        shown = next(frames_at(clip, [0.0], "keep"))
        found[path.stem] = [f.reads_like for f in clip_findings(shown.pixels, clip, signal)]
    assert found == {"right": [], "wrong": [noticed]}


@pytest.mark.parametrize("bits", [8, 10])
def test_a_written_preview_is_what_was_graded(bits: int, tmp_path: Path) -> None:
    """Written without loss, read by FFmpeg as untagged Y'CbCr and by us as R'G'B'."""
    ramp = np.linspace(0.0, 1.0, WIDTH, dtype=np.float32)
    flat = np.repeat(ramp[None, :, None], HEIGHT, axis=0) * np.array([1.0, 0.7, 0.4], np.float32)
    frames = [ClipFrame(flat, n / 24.0, n * 512, Fraction(1, 12288)) for n in range(4)]
    path = tmp_path / "out.mp4"
    assert write_clip(path, frames, Fraction(24), tags_for("BT.1886", "BT.709"), bits, quality=0) == 4
    said = subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), "-i", str(path)], capture_output=True).stderr.decode()
    assert re.search(r"h264.*yuv420p(10le)?\(tv, bt709, progressive\), 160x90.* 24 fps", said), said
    clip = read_clip(path)
    assert (clip.matrix, clip.range, clip.primaries, clip.transfer) == ("BT.709", "legal", "BT.709", "BT.709")
    back = list(all_frames(clip))
    assert [round(f.seconds * 24) for f in back] == [0, 1, 2, 3]
    # A code of luma and of each chroma, with the scaler's dither, is up to 2.5 codes of a channel; the ends of the
    # ramp have neighbours on one side only.
    np.testing.assert_allclose(back[2].pixels[:, 4:-4], flat[:, 4:-4], rtol=0, atol=3.5 / (2**bits - 1))
    white = np.ones((16, 16, 3), np.float32)
    write_clip(path, [ClipFrame(white, 0.0, 0, Fraction(1, 24))], Fraction(24), tags_for("sRGB", "BT.709"), bits, 0)
    raw = ffmpeg("-i", path, "-f", "rawvideo", "-").stdout
    codes = np.frombuffer(raw, "u1" if bits == 8 else "<u2")
    assert set(codes[:256].tolist()) == {235 << (bits - 8)} and set(codes[256:].tolist()) == {128 << (bits - 8)}


@pytest.mark.parametrize(
    ("encoding", "primaries", "words"),
    [
        ("BT.2100 PQ", "BT.2020", "bt2020nc/bt2020/smpte2084"),
        ("BT.2100 HLG", "BT.2020", "bt2020nc/bt2020/arib-std-b67"),
        ("sRGB", "BT.709", "bt709/bt709/iec61966-2-1"),
        ("Display P3", "P3-D65", "bt709/smpte432/iec61966-2-1"),
    ],
)
def test_tags(encoding: str, primaries: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "out.mp4"
    frame = ClipFrame(np.full((16, 16, 3), 0.5, np.float32), 0.0, 0, Fraction(1, 24))
    write_clip(path, [frame], Fraction(24), tags_for(encoding, primaries), 10)
    said = subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), "-i", str(path)], capture_output=True).stderr.decode()
    assert f"(tv, {words}, progressive)" in said, said


def test_an_output_without_tags_is_refused() -> None:
    with pytest.raises(PictureError, match="no tags exist for P3-D65"):
        tags_for("P3-D65 2.6", "P3-D65")


def test_odd_sizes_lose_a_row_and_nothing_is_left_of_a_failure(tmp_path: Path) -> None:
    path = tmp_path / "out.mp4"
    frame = ClipFrame(np.full((17, 19, 3), 0.5, np.float32), 0.0, 0, Fraction(1, 24))
    write_clip(path, [frame], Fraction(24), tags_for("sRGB", "BT.709"))
    assert (read_clip(path).width, read_clip(path).height) == (18, 16)
    before = path.read_bytes()
    with pytest.raises(PictureError, match="no frame to write"):
        write_clip(path, [], Fraction(24), tags_for("sRGB", "BT.709"))
    assert path.read_bytes() == before and list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("kind", [*KINDS, "R'G'B'"])
@pytest.mark.parametrize("levels", ["expand", "keep"])
def test_a_frame_graded_by_codes_is_one_graded_in_floating_point(kind: str, levels: Levels, tmp_path: Path) -> None:
    """The short way (16-bit codes in and out, 32-bit arithmetic) against the long one (float64 matrices, float32 LUT):
    no code of 16 bits apart by more than one, and few of them. One such code is a 64th of a 10-bit one."""
    if kind == "R'G'B'":
        matrix, path = "bt709", make(tmp_path / "c.mkv", "gbrp10le", ["-c:v", "ffv1"])
    else:
        name, pixel_format, codec, matrix, range_ = KINDS[kind]
        path = make(tmp_path / name, pixel_format, codec, matrix, range_)
    clip = read_clip(path, None, "legal" if kind == "R'G'B'" else None)
    table = sample(lambda signal: 1.2 * signal**1.2 - 0.05 * signal[..., ::-1], 17)  # beyond 0..1 at both ends
    lut = Applier(table)
    range_of_output: Range = "legal" if levels == "keep" else "full"
    grading = Grading(clip, levels, lambda rgba: lut.apply_inplace_rgba(rgba, True), range_of_output, "BT.2020")
    pairs = list(zip(all_codes(clip), all_frames(clip, levels=levels), strict=True))
    assert len(pairs) == 5
    for coded, frame in pairs[:2]:
        graded = grading(coded)
        assert (graded.pts, graded.time_base) == (frame.pts, frame.time_base)
        shown = to_full(np.asarray(lut(frame.pixels), np.float64), range_of_output)
        expected = np.rint(to_legal_codes(shown, 16, "BT.2020"))
        apart = np.abs(_planes(graded) - expected)
        assert apart.max() <= 1.0 and (apart > 0).mean() < 0.02, (apart.max(), (apart > 0).mean())


@pytest.mark.parametrize("beyond", [False, True])
@pytest.mark.parametrize("range_of_output", ["full", "legal"])
def test_one_processor_gives_the_codes_of_the_float_way(tmp_path: Path, beyond: bool, range_of_output: Range) -> None:
    """Matrices and lattice as one transform of codes: the same, also where the lattice leaves 0..1 and is cut.

    Where nothing needs to be cut the last matrix is worked into the lattice, so that a code of 16 bits may fall the
    other side of a half: either way is 32-bit arithmetic, some hundredths of such a code, and as near to float64.
    """
    clip = read_clip(make(tmp_path / "c.mov", "yuv422p10le", ["-c:v", "prores_ks", "-profile:v", "3"]))
    over = 1.3 if beyond else 0.9
    lattice = sample(lambda signal: over * signal**1.2 - (over - 0.9) * signal[..., ::-1], 17)
    lut = Applier(lattice)
    assert lut.within is not beyond

    def grade(rgba: np.ndarray) -> None:
        lut.apply_inplace_rgba(rgba, True)

    apart = Grading(clip, "expand", grade, range_of_output, "BT.709")
    one = Grading(clip, "expand", grade, range_of_output, "BT.709", transform=lut.transform, within=lut.within)
    joined = lut.within and range_of_output == "full"
    wrong = np.zeros(2)
    for coded in all_codes(clip):
        codes = [_planes(g(coded)).astype(int) for g in (one, apart)]
        difference = np.abs(codes[0] - codes[1])
        assert difference.max() <= joined and (difference > 0).mean() < 0.01
        rgb = rgb_from_wide_codes(np.stack(coded.planes, axis=-1).astype(np.float64), clip, "expand")
        shown = to_full(lookup(lattice, rgb, "tetrahedral"), range_of_output)
        exact = np.rint(to_legal_codes(np.clip(shown, 0, 1), 16, "BT.709"))
        wrong += [(c != exact).mean() for c in codes]
    assert wrong.max() < 5 * 0.005, wrong  # five frames, one code in 200


def test_memory_of_a_frame_is_taken_again_only_when_it_was_released(tmp_path: Path) -> None:
    clip = read_clip(make(tmp_path / "c.mov", "yuv422p10le", ["-c:v", "prores_ks", "-profile:v", "3"]))
    grading = Grading(clip, "expand", lambda rgba: None, "full", "BT.709")
    frames = list(all_codes(clip))
    kept = [grading(f) for f in frames[:3]]
    seen = [_planes(k) for k in kept]
    assert len({k.whole for k in kept}) == 3
    kept[1].release()
    again = grading(frames[3])
    assert again.whole is kept[1].whole and not np.array_equal(_planes(again), seen[1])
    np.testing.assert_array_equal(_planes(kept[0]), seen[0])
    np.testing.assert_array_equal(_planes(kept[2]), seen[2])
    small = replace(frames[0], planes=tuple(p[:40, :60] for p in frames[0].planes))
    again.release()
    assert _planes(grading(small)).shape == (40, 60, 3)  # not into a frame of another size


def test_odd_and_turned_frames_are_graded_by_codes(tmp_path: Path) -> None:
    """A width that FFmpeg pads its lines for, an odd height, a quarter turn."""
    path = make(tmp_path / "c.mov", "yuv444p10le", ["-c:v", "prores_ks", "-profile:v", "4"])
    clip = read_clip(path)
    grading = Grading(clip, "expand", lambda rgba: None, "full", "BT.709", threads=3)
    whole = next(iter(all_codes(clip)))
    cut = replace(whole, planes=tuple(p[:77, :151] for p in whole.planes))
    turned = replace(whole, planes=tuple(np.rot90(p) for p in whole.planes))
    full = _planes(grading(whole))
    np.testing.assert_array_equal(_planes(grading(cut)), full[:76, :150])
    np.testing.assert_array_equal(_planes(grading(turned)), np.rot90(full))


def _planes(graded: GradedFrame) -> np.ndarray:
    width, height = graded.whole.width, graded.whole.height
    return np.stack([np.frombuffer(p, "<u2").reshape(height, -1)[:, :width] for p in graded.whole.planes], -1)


def test_frames_made_ahead() -> None:
    """In order, a fault where its frame would have come, and no thread left when nobody wants more."""
    before = threading.active_count()

    def frames() -> Iterator[int]:
        for n in range(9):
            if n == 6:
                raise PictureError("clip", "is damaged")
            yield n

    assert list(ahead(iter(range(20)))) == list(range(20))
    seen = []
    with pytest.raises(PictureError, match="is damaged"):
        for n in ahead(frames()):
            seen.append(n)
    assert seen == [0, 1, 2, 3, 4, 5]
    endless = ahead(itertools.count())
    assert [next(endless) for _ in range(3)] == [0, 1, 2]
    endless.close()
    assert threading.active_count() == before
