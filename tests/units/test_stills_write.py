"""What is written, what is refused, and that a failed write leaves nothing."""

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import LookwrightError, OutputError, PictureError
from lookwright.pictures.stills import holds_icc, profile_for, read, write

RNG = np.random.default_rng(3)
KINDS = {
    "png": ("8", "16"),
    "tif": ("8", "16", "half", "float"),
    "exr": ("half", "float"),
    "dpx": ("8", "10", "12", "16"),
    "jpg": ("8",),
    "webp": ("8",),
}
MOST = {"8": 255, "10": 1023, "12": 4095, "16": 65535}
EXACT = [(s, d) for s, depths in KINDS.items() for d in depths if s != "jpg"]


@pytest.mark.parametrize(("suffix", "depth"), EXACT)
@pytest.mark.parametrize("with_alpha", [False, True])
@pytest.mark.parametrize("width", [71, 72])
def test_round_trip_is_exact_to_the_code(tmp_path: Path, suffix: str, depth: str, with_alpha: bool, width: int) -> None:
    if depth in MOST:
        codes = RNG.integers(0, MOST[depth] + 1, (150, width, 4))
        codes[0, 0], codes[0, 1] = 0, MOST[depth]
        data = (codes / MOST[depth]).astype(np.float32)
    else:
        data = RNG.normal(0.5, 2, (150, width, 4)).astype(np.float16 if depth == "half" else np.float32)
        data = data.astype(np.float32)
    pixels, alpha = data[..., :3], data[..., 3] if with_alpha else None
    if suffix == "exr" and alpha is not None:
        # EXR stores colour times alpha, which is exact where alpha is 0 or 1; part coverage is tested below.
        alpha = np.rint(np.clip(alpha, 0, 1))
    still = read(write(tmp_path / f"a.{suffix}", pixels, depth, alpha=alpha))
    assert still.depth == depth
    assert np.array_equal(still.pixels, pixels)
    if alpha is None:
        assert still.alpha is None
    else:
        assert still.alpha is not None
        assert np.array_equal(still.alpha, alpha)


@pytest.mark.parametrize(("suffix", "depth"), [("png", "8"), ("png", "16"), ("dpx", "10"), ("dpx", "12")])
def test_every_code_survives(tmp_path: Path, suffix: str, depth: str) -> None:
    most = MOST[depth]
    codes = np.arange(most + 1).repeat(3).reshape(-1, 1, 3)
    codes = codes.reshape(min(64, most + 1), -1, 3)
    still = read(write(tmp_path / f"a.{suffix}", codes / most, depth))
    assert np.array_equal(np.rint(still.pixels.astype(np.float64) * most), codes)


def test_exr_with_part_coverage_comes_back_to_a_rounding(tmp_path: Path) -> None:
    pixels = RNG.random((20, 30, 3)).astype(np.float32)
    alpha = RNG.uniform(0.05, 1, (20, 30)).astype(np.float32)
    alpha[0, 0] = 0
    still = read(write(tmp_path / "a.exr", pixels, "float", alpha=alpha))
    # One multiplication and one division in float32: two half units in the last place and a bit.
    assert np.allclose(still.pixels, pixels, rtol=2.4e-7, atol=0)
    assert np.array_equal(still.pixels[0, 0], pixels[0, 0])


def test_rounding_goes_to_the_nearest_code_and_clips(tmp_path: Path) -> None:
    values = np.array([[[0.4999, 0.5001, 1.4999], [254.4999, 254.5001, -5.0], [300.0, 127.5, 255.0]]]) / 255
    codes = np.rint(read(write(tmp_path / "a.png", values, "8")).pixels * 255).astype(int).ravel()
    assert codes.tolist() == [0, 1, 1, 254, 255, 0, 255, 128, 255]


def test_sixteen_bits_round_by_the_exact_product(tmp_path: Path) -> None:
    from fractions import Fraction

    # float32 numbers right beside the half-way points, where a float32 product would round wrongly.
    half_way = ((RNG.integers(0, 65535, 300) + 0.5) / 65535).astype(np.float32)
    near = np.concatenate([half_way, np.nextafter(half_way, np.float32(1)), np.nextafter(half_way, np.float32(0))])
    got = np.rint(read(write(tmp_path / "a.png", near.reshape(1, -1, 3), "16")).pixels.astype(float) * 65535).ravel()
    want = [int(Fraction(float(v)) * 65535 + Fraction(1, 2)) for v in near]
    assert got.astype(int).tolist() == want


def test_defaults_by_format(tmp_path: Path) -> None:
    pixels = RNG.random((8, 9, 3))
    for suffix, depth in {
        "png": "16",
        "tif": "16",
        "TIFF": "16",
        "exr": "half",
        "dpx": "10",
        "jpeg": "8",
        "webp": "8",
    }.items():
        assert read(write(tmp_path / f"a.{suffix}", pixels)).depth == depth


def test_floats_keep_what_is_outside_0_to_1(tmp_path: Path) -> None:
    pixels = np.array([[[-0.5, 2.0, 60000.0]]], np.float32)
    for name in ("a.exr", "a.tif"):
        assert np.array_equal(read(write(tmp_path / name, pixels, "half")).pixels, pixels)


@pytest.mark.parametrize("name", ["a.png", "a.tif", "a.exr", "a.dpx", "a.jpg", "a.webp"])
def test_same_picture_same_bytes(tmp_path: Path, name: str) -> None:
    pixels = RNG.random((20, 30, 3))
    first = write(tmp_path / name, pixels).read_bytes()
    (tmp_path / "other").mkdir()
    assert write(tmp_path / "other" / name, pixels).read_bytes() == first
    assert b"writing-" not in first


def test_a_png_does_not_say_that_it_is_srgb(tmp_path: Path) -> None:
    """A log still marked sRGB would be shown, and by some programs converted, as what it is not.

    The chunks of PNG (third edition, 11.3.2); beside iCCP there should be no sRGB.
    """
    for name, icc in (("a.png", None), ("b.png", profile_for("BT.1886", "BT.709"))):
        data, at, chunks = write(tmp_path / name, GOOD, icc=icc).read_bytes(), 8, []
        while at < len(data):
            chunks.append(data[at + 4 : at + 8])
            at += 12 + int.from_bytes(data[at : at + 4])
        assert chunks[0] == b"IHDR" and chunks[-1] == b"IEND"
        assert not {b"sRGB", b"gAMA", b"cHRM"} & set(chunks)
        assert (b"iCCP" in chunks) == (icc is not None)


@pytest.mark.parametrize("noisy", [False, True])
def test_a_jpeg_is_the_same_where_there_is_no_file_in_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, noisy: bool
) -> None:
    """Noise needs more than the room that such a file has, and is encoded once more without one."""

    def forbidden(name: str) -> int:
        asked.append(name)
        raise PermissionError(name)

    asked: list[str] = []
    picture = RNG.random((64, 96, 3)) if noisy else np.linspace(0.0, 1.0, 64 * 96 * 3).reshape(64, 96, 3)
    one = write(tmp_path / "one.jpg", picture)
    assert (one.stat().st_size > 64 * 96) == noisy
    monkeypatch.setattr(os, "memfd_create", forbidden, raising=False)
    two = write(tmp_path / "two.jpg", picture)
    assert one.read_bytes() == two.read_bytes()
    assert bool(asked) == (sys.platform == "linux")


def test_jpeg_keeps_full_chroma_and_obeys_quality(tmp_path: Path) -> None:
    pixels = RNG.random((64, 64, 3))
    path = write(tmp_path / "a.jpg", pixels)
    assert read(path).metadata["jpeg:subsampling"] == "4:4:4"
    assert write(tmp_path / "b.jpg", pixels, quality=30).stat().st_size < 0.6 * path.stat().st_size
    # Random pixels are the worst case for JPEG; a smooth ramp is what it is made for.
    ramp = np.linspace(0, 1, 64 * 64 * 3).reshape(64, 64, 3)
    assert np.abs(read(write(tmp_path / "c.jpg", ramp)).pixels - ramp).max() < 4 / 255


GOOD = np.full((4, 5, 3), 0.5)


@pytest.mark.parametrize(
    ("name", "options", "words"),
    [
        ("a.jpg", {"depth": "16"}, "JPEG cannot hold depth '16'; expected 8"),
        ("a.webp", {"depth": "16"}, "WebP cannot hold depth '16'; expected 8"),
        ("a.exr", {"depth": "8"}, "EXR cannot hold depth '8'; expected half or float"),
        ("a.png", {"depth": "float"}, "PNG cannot hold depth 'float'; expected 8 or 16"),
        ("a.png", {"depth": "10"}, "PNG cannot hold"),
        ("a.dpx", {"depth": "half"}, "DPX cannot hold"),
        ("a.jpg", {"alpha": np.ones((4, 5))}, "no alpha and it would be lost"),
        ("a.png", {"alpha": np.ones((5, 4))}, "alpha (5, 4)"),
        ("a.exr", {"icc": b"x"}, "holds no ICC profile"),
        ("a.dpx", {"icc": b"x"}, "holds no ICC profile"),
        ("a.jpg", {"quality": 0}, "quality 0"),
        ("a.png", {"metadata": {"descripton": "x"}}, "did you mean 'description'"),
        ("a.png", {"metadata": {"description": "a\0b"}}, "not plain text"),
        ("a.gif", {}, "no picture format has the suffix '.gif'"),
        ("a", {}, "no picture format has the suffix ''"),
    ],
)
def test_refused_and_nothing_left(tmp_path: Path, name: str, options: dict[str, object], words: str) -> None:
    with pytest.raises(PictureError) as caught:
        write(tmp_path / name, GOOD, **options)  # type: ignore[arg-type]
    assert words in str(caught.value)
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("name", ["a.png", "a.tif", "a.exr", "a.dpx", "a.jpg", "a.webp"])
@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_not_numbers_are_refused(tmp_path: Path, name: str, bad: float) -> None:
    pixels = np.full((200, 5, 3), 0.5)
    pixels[150, 2, 1] = bad
    with pytest.raises(PictureError, match="x 2, y 150"):
        write(tmp_path / name, pixels)
    assert os.listdir(tmp_path) == []


def test_numbers_beyond_half_are_refused(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match=r"65504.*depth float"):
        write(tmp_path / "a.exr", np.full((2, 2, 3), 70000.0))
    assert read(write(tmp_path / "a.exr", np.full((2, 2, 3), 70000.0), "float")).pixels[0, 0, 0] == 70000


@pytest.mark.parametrize("shape", [(4, 5), (4, 5, 4), (0, 5, 3)])
def test_shapes(tmp_path: Path, shape: tuple[int, ...]) -> None:
    with pytest.raises(PictureError, match=r"\(H, W, 3\)"):
        write(tmp_path / "a.png", np.zeros(shape))
    with pytest.raises(PictureError, match="of floats"):
        write(tmp_path / "a.png", np.zeros((4, 5, 3), np.uint8))


def test_alpha_left_out_only_when_allowed(tmp_path: Path) -> None:
    alpha = np.full((4, 5), 0.5)
    assert read(write(tmp_path / "a.jpg", GOOD, alpha=alpha, drop_alpha=True)).alpha is None
    assert read(write(tmp_path / "a.png", GOOD, alpha=alpha, drop_alpha=True)).alpha is not None


def test_holds_icc() -> None:
    assert [holds_icc(n) for n in ("a.png", "a.tif", "a.JPG", "a.exr", "a.dpx")] == [True, True, True, False, False]


@pytest.mark.parametrize("suffix", KINDS)
def test_folders_that_cannot_be_written(tmp_path: Path, suffix: str) -> None:
    (tmp_path / "file").write_text("x")
    for target, words in (
        (tmp_path / "none" / f"a.{suffix}", "does not exist"),
        (tmp_path / "file" / f"a.{suffix}", "is a file, not a folder"),
    ):
        with pytest.raises(OutputError, match=words):
            write(target, GOOD)
    (tmp_path / f"b.{suffix}").mkdir()
    with pytest.raises(OutputError, match="folder"):
        write(tmp_path / f"b.{suffix}", GOOD)
    assert sorted(os.listdir(tmp_path)) == sorted(["file", f"b.{suffix}"])


FULL_DISK = """
    import os, resource, signal, sys
    from pathlib import Path
    import numpy as np
    from lookwright.errors import LookwrightError
    from lookwright.pictures.stills import read, write

    # A limit on the file size makes the system refuse bytes beyond it, as a full disk does.
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    folder, suffix, depth = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
    pixels = np.random.default_rng(5).random((120, 160, 3))
    target = folder / f"a.{suffix}"
    size = write(target, pixels, depth).stat().st_size
    earlier = target.read_bytes()
    said = []
    for limit in (0, 1, 100, 4096, size // 3, size // 2, size - 4096, size - 100, size - 12, size - 1):
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
        try:
            write(target, pixels, depth)
            line = "WRITTEN"
        except LookwrightError as exc:
            line = str(exc)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        assert target.read_bytes() == earlier, limit
        assert os.listdir(folder) == [target.name], limit
        said.append(f"{limit}: {line}")
    print("\\n".join(said))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="file size limits are a POSIX facility")
@pytest.mark.parametrize(("suffix", "depth"), [(s, d) for s, ds in KINDS.items() for d in (ds[0], ds[-1])])
def test_full_disk_at_every_stage_leaves_the_earlier_file(tmp_path: Path, suffix: str, depth: str) -> None:
    run = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(FULL_DISK), str(tmp_path), suffix, depth],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    assert run.stderr == ""
    lines = run.stdout.splitlines()
    assert len(lines) == 10
    assert not [x for x in lines if "WRITTEN" in x]
    assert all(f"a.{suffix}" in x for x in lines)


def test_no_space_reported_by_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(LookwrightError, match="disk is full"):
        write(tmp_path / "a.png", GOOD)
    assert os.listdir(tmp_path) == []
