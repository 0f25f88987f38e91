"""What the reader refuses, and how it says so: always one PictureError line."""

import os
import struct
import sys
import threading
import zlib
from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import PictureError
from lookwright.pictures.stills import read, write

RNG = np.random.default_rng(7)
PIXELS = RNG.random((61, 83, 3)).astype(np.float32)

KINDS = [
    ("png", "8"),
    ("png", "16"),
    ("tif", "8"),
    ("tif", "16"),
    ("tif", "half"),
    ("tif", "float"),
    ("exr", "half"),
    ("exr", "float"),
    ("dpx", "8"),
    ("dpx", "10"),
    ("dpx", "12"),
    ("dpx", "16"),
    ("jpg", "8"),
    ("webp", "8"),
]


def _refused(path: Path) -> str:
    with pytest.raises(PictureError) as caught:
        read(path)
    line = str(caught.value)
    assert "\n" not in line
    assert str(path) in line
    return line


def _oiio_write(path: Path, data: np.ndarray, kind: str, **attributes: object) -> None:
    import OpenImageIO as oiio

    spec = oiio.ImageSpec(data.shape[1], data.shape[0], data.shape[2], kind)
    for key, value in attributes.items():
        if key == "channelnames":
            spec.channelnames = value
        elif key in ("x", "y", "full_width", "full_height"):
            setattr(spec, key, value)
        else:
            spec.attribute(key.replace("__", ":"), value)
    out = oiio.ImageOutput.create(str(path))
    assert out.open(str(path), spec), out.geterror()
    assert out.write_image(data), out.geterror()
    assert out.close()


# Cut points: inside the signature, the header, the pixels, and one to some bytes before the end.
@pytest.mark.parametrize("cut", [2, 40, 0.02, 0.3, 0.6, 0.9, 0.99, -40, -12, -4, -1])
@pytest.mark.parametrize(("suffix", "depth"), KINDS)
def test_cut_short(tmp_path: Path, suffix: str, depth: str, cut: float) -> None:
    path = write(tmp_path / f"a.{suffix}", PIXELS, depth)
    data = path.read_bytes()
    length = len(data) + cut if cut < 0 else cut if isinstance(cut, int) else int(len(data) * cut)
    path.write_bytes(data[: int(length)])
    _refused(path)


@pytest.mark.parametrize("compression", ["none", "rle", "zips", "piz", "dwaa:45"])
@pytest.mark.parametrize("cut", [0.1, 0.5, 0.95, -4, -1])
def test_cut_short_exr_of_every_compression(tmp_path: Path, compression: str, cut: float) -> None:
    path = tmp_path / "a.exr"
    _oiio_write(path, PIXELS.astype(np.float16), "half", compression=compression)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) + cut if cut < 0 else len(data) * cut)])
    _refused(path)


@pytest.mark.parametrize("cut", [0.1, 0.5, 0.95, -1])
def test_cut_short_tiff_without_compression(tmp_path: Path, cut: float) -> None:
    import tifffile

    path = tmp_path / "a.tif"
    tifffile.imwrite(path, (PIXELS * 65535).astype(np.uint16), photometric="rgb")
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) + cut if cut < 0 else len(data) * cut)])
    _refused(path)


@pytest.mark.parametrize("progressive", [False, True])
def test_jpeg_that_lost_its_middle_but_has_its_end(tmp_path: Path, progressive: bool) -> None:
    from PIL import Image

    path = tmp_path / "a.jpg"
    Image.fromarray((PIXELS * 255).astype(np.uint8)).save(path, progressive=progressive)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2] + b"\xff\xd9")
    assert "damaged or cut short" in _refused(path)


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def _png(width: int, height: int, rows: bytes) -> bytes:
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", rows) + _chunk(b"IEND", b"")


def test_png_whose_chunks_are_whole_but_rows_are_missing(tmp_path: Path) -> None:
    rows = b"".join(b"\0" + bytes(30) for _ in range(10))
    path = tmp_path / "a.png"
    path.write_bytes(_png(10, 10, zlib.compress(rows)))
    assert read(path).pixels.shape == (10, 10, 3)
    path.write_bytes(_png(10, 20, zlib.compress(rows)))
    assert "damaged or cut short" in _refused(path)


def test_png_with_a_flipped_bit(tmp_path: Path) -> None:
    path = write(tmp_path / "a.png", PIXELS)
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    assert "damaged or cut short" in _refused(path)


def test_png_with_something_after_its_end_is_whole(tmp_path: Path) -> None:
    path = write(tmp_path / "a.png", PIXELS, "8")
    path.write_bytes(path.read_bytes() + b"trailing bytes some programs add")
    assert read(path).depth == "8"


def test_libpng_prints_nothing_and_other_lines_pass(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "a.png", PIXELS)
    path.write_bytes(path.read_bytes()[:2000])
    _refused(path)
    os.write(2, b"after\n")
    assert capfd.readouterr().err == "after\n"


def test_lines_of_other_threads_are_held_back_not_lost(capfd: pytest.CaptureFixture[str]) -> None:
    from lookwright.pictures.stills.quiet import libpng_quiet

    def other() -> None:
        with libpng_quiet():  # leaves before the first one does
            os.write(2, b"libpng warning: something\nother line\n")

    with libpng_quiet():
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
        os.write(2, b"libpng error: something\nfirst line\n")
        assert capfd.readouterr().err == ""
    assert capfd.readouterr().err == "other line\nfirst line\n"
    os.write(2, b"libpng-like line after\n")
    assert capfd.readouterr().err == "libpng-like line after\n"


def test_reading_good_and_damaged_files_in_many_threads(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    good = write(tmp_path / "good.png", PIXELS, "8")
    bad = tmp_path / "bad.png"
    bad.write_bytes(good.read_bytes()[:3000])
    wrong: list[object] = []

    def work(number: int) -> None:
        for turn in range(10):
            is_good = (number + turn) % 2 == 1
            try:
                if not is_good or read(good).depth != "8":
                    read(bad)
                    wrong.append((number, turn))
            except PictureError:
                if is_good:
                    wrong.append((number, turn))

    threads = [threading.Thread(target=work, args=(n,)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong
    print("python line", file=sys.stderr)
    assert capfd.readouterr().err == "python line\n"


@pytest.mark.parametrize("suffix", ["png", "tif", "exr", "dpx", "jpg", "webp"])
def test_wrong_content(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a.{suffix}"
    path.write_bytes(b"")
    assert "the file is empty" in _refused(path)
    path.write_bytes(b"plain text, not a picture\n" * 10)
    assert "the content is not" in _refused(path)
    path.write_bytes(bytes(1000))
    assert "the content is not" in _refused(path)


SIGNATURES = {"png": 8, "tif": 4, "exr": 4, "dpx": 4, "jpg": 3, "webp": 16}


@pytest.mark.parametrize("suffix", SIGNATURES)
def test_right_signature_then_rubbish(tmp_path: Path, suffix: str) -> None:
    path = write(tmp_path / f"a.{suffix}", PIXELS)
    path.write_bytes(path.read_bytes()[: SIGNATURES[suffix]] + RNG.bytes(5000))
    _refused(path)


def test_content_decides_not_the_name(tmp_path: Path) -> None:
    cases = (
        ("png", "tif", "16"),
        ("tif", "jpg", "16"),
        ("exr", "png", "half"),
        ("jpg", "webp", "8"),
        ("webp", "jpg", "8"),
    )
    for suffix, other, depth in cases:
        path = write(tmp_path / f"a.{suffix}", PIXELS)
        want = read(path)
        moved = path.rename(tmp_path / f"moved_{suffix}.{other}")
        got = read(moved)
        assert got.depth == depth == want.depth
        assert np.array_equal(got.pixels, want.pixels)


def test_files_of_other_kinds(tmp_path: Path) -> None:
    path = tmp_path / "a.mov"
    path.write_bytes(b"\0\0\0\x14ftypqt  " + bytes(100))
    assert "clip" in _refused(path)
    path = tmp_path / "a.gif"
    path.write_bytes(b"GIF89a" + bytes(100))
    assert "PNG, TIFF, EXR, DPX, JPEG or WebP" in _refused(path)
    path = tmp_path / "a.webp"
    path.write_bytes(b"RIFF\x80\0\0\0AVI LIST" + bytes(100))
    assert "the content is not WebP" in _refused(path)


def test_paths_that_are_no_files(tmp_path: Path) -> None:
    assert "no such file" in _refused(tmp_path / "none.png")
    assert "folder" in _refused(tmp_path)
    file = write(tmp_path / "a.png", PIXELS)
    assert "is a file, not a folder" in _refused(file / "b.png")
    assert "too long" in _refused(tmp_path / ("x" * 300 + ".png"))
    with pytest.raises(PictureError, match="null"):
        read("a\0.png")
    loop = tmp_path / "loop.png"
    loop.symlink_to(loop)
    assert "circle" in _refused(loop)
    pipe = tmp_path / "pipe.png"
    os.mkfifo(pipe)
    assert "pipe" in _refused(pipe)


def test_no_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(tmp_path / "a.png", PIXELS)
    path.chmod(0)
    if os.access(path, os.R_OK):  # the superuser reads everything: let the system call itself refuse

        def refuse(*_: object, **__: object) -> object:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr("builtins.open", refuse)
    assert "no permission" in _refused(path)


def test_names_that_are_awkward(tmp_path: Path) -> None:
    for name in ("näht €.png", "a?b=c#%04d.png", "take[1] {x}.png"):
        path = write(tmp_path / name, PIXELS, "8")
        assert read(path).path == path
    raw = os.fsdecode(os.fsencode(tmp_path) + b"/\xff.png")
    os.link(path, raw)
    with pytest.raises(PictureError, match="not valid UTF-8"):
        read(raw)


def test_headers_that_claim_too_much(tmp_path: Path) -> None:
    path = tmp_path / "bomb.png"
    path.write_bytes(_png(60_000, 60_000, zlib.compress(b"0")))
    _refused(path)
    # A well-packed blank of 225 million pixels would pass any ratio test; the limit is on the pixels.
    rows = zlib.compress(bytes(45_001 * 15_000), 1)
    path.write_bytes(_png(15_000, 15_000, rows))
    assert "225 million pixels; expected at most 200 million" in _refused(path)


@pytest.mark.parametrize(("suffix", "depth"), [("exr", "half"), ("exr", "float"), ("tif", "half"), ("tif", "float")])
def test_not_numbers_are_counted_and_placed(tmp_path: Path, suffix: str, depth: str) -> None:
    import tifffile

    path = tmp_path / f"a.{suffix}"
    data = PIXELS.astype(np.float16 if depth == "half" else np.float32)
    data[40, 7, 1] = np.nan
    data[3, 5] = np.inf
    if suffix == "exr":
        _oiio_write(path, data, depth)
    else:
        tifffile.imwrite(path, data, photometric="rgb")
    line = _refused(path)
    assert "2 pixels are NaN or infinite" in line
    assert "x 5, y 3" in line


def test_cmyk_and_lab_are_refused(tmp_path: Path) -> None:
    import tifffile
    from PIL import Image

    four = RNG.integers(0, 256, (10, 12, 4), dtype=np.uint8)
    Image.frombytes("CMYK", (12, 10), four.tobytes()).save(tmp_path / "a.jpg")
    assert "CMYK" in _refused(tmp_path / "a.jpg")
    tifffile.imwrite(tmp_path / "a.tif", four, photometric="separated")
    assert "CMYK" in _refused(tmp_path / "a.tif")
    tifffile.imwrite(tmp_path / "b.tif", four[..., :3], photometric="cielab")
    assert "Lab" in _refused(tmp_path / "b.tif")


def test_channels_that_are_not_a_picture(tmp_path: Path) -> None:
    import tifffile

    five = RNG.random((10, 12, 5)).astype(np.float32)
    tifffile.imwrite(tmp_path / "a.tif", five, photometric="rgb", extrasamples=["unspecified"] * 2)
    assert "channels are" in _refused(tmp_path / "a.tif")
    tifffile.imwrite(tmp_path / "b.tif", five[..., :2], photometric="minisblack", extrasamples=["unspecified"])
    assert "channels are" in _refused(tmp_path / "b.tif")
    _oiio_write(tmp_path / "a.exr", five[..., :2], "float", channelnames=("forward.u", "forward.v"))
    assert "forward.u" in _refused(tmp_path / "a.exr")
    _oiio_write(tmp_path / "b.exr", five[..., :3], "float", channelnames=("Y", "RY", "BY"))
    assert "RY" in _refused(tmp_path / "b.exr")


@pytest.mark.parametrize("kind", [np.uint32, np.int16, np.float64])
def test_number_types_that_would_lose_something(tmp_path: Path, kind: type) -> None:
    import tifffile

    tifffile.imwrite(tmp_path / "a.tif", np.ones((4, 5, 3), kind), photometric="rgb")
    assert "numbers are of type" in _refused(tmp_path / "a.tif")


def test_exr_beside_further_channels_and_in_its_display_window(tmp_path: Path) -> None:
    five = RNG.random((8, 10, 5)).astype(np.float32)
    _oiio_write(tmp_path / "z.exr", five, "float", channelnames=("R", "G", "B", "A", "Z"))
    still = read(tmp_path / "z.exr")
    assert still.alpha is not None
    assert np.array_equal(still.alpha, five[..., 3])
    assert np.allclose(still.pixels * still.alpha[..., None], five[..., :3], rtol=1e-6)

    _oiio_write(tmp_path / "w.exr", five[..., :3], "float", x=2, y=-3, full_width=9, full_height=20)
    still = read(tmp_path / "w.exr")
    want = np.zeros((20, 9, 3), np.float32)
    want[0:5, 2:9] = five[3:8, 0:7, :3]
    assert np.array_equal(still.pixels, want)


def test_dpx_alpha_that_the_library_gets_wrong_is_refused(tmp_path: Path) -> None:
    alpha = RNG.random((9, 70)).astype(np.float32)
    path = write(tmp_path / "a.dpx", np.zeros((9, 70, 3), np.float32), "10", alpha=alpha)
    assert "70 pixels wide" in _refused(path)


def test_arrays_are_contiguous_float32_and_icc_and_notes_come_back(tmp_path: Path) -> None:
    from lookwright.pictures.stills import profile_for

    icc = profile_for("Display P3")
    for name in ("a.png", "a.tif", "a.jpg", "a.webp"):
        path = write(tmp_path / name, PIXELS, icc=icc, metadata={"description": "bench, näht", "copyright": "none"})
        still = read(path)
        assert still.icc == icc
        assert still.metadata["ImageDescription"] == "bench, näht"
        assert still.metadata["Software"] == "lookwright"
        assert still.pixels.dtype == np.float32
        assert still.pixels.flags.c_contiguous
        assert (still.width, still.height) == (83, 61)
        assert still.alpha is None


def test_a_remark_in_an_older_code_page_does_not_stop_the_reading(tmp_path: Path) -> None:
    path = write(tmp_path / "a.exr", PIXELS, metadata={"description": "naeht xx"})
    want = read(path).pixels
    data = path.read_bytes()
    assert data.count(b"naeht xx") == 1
    path.write_bytes(data.replace(b"naeht xx", b"n\xe4ht \xff\xfex"))
    assert np.array_equal(read(path).pixels, want)


def test_damaged_bytes_never_give_another_error_or_numbers_that_are_none(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    for suffix, depth in KINDS:
        path = write(tmp_path / f"a.{suffix}", PIXELS[:20, :20], depth)
        data = path.read_bytes()
        for turn in range(30):
            hurt = bytearray(data)
            for _ in range(3):
                # Headers are hurt more often than pixels: that is where readers trip.
                hurt[int(rng.integers(4, 400 if turn % 2 else len(hurt)))] = int(rng.integers(256))
            path.write_bytes(hurt)
            try:
                assert np.isfinite(read(path).pixels).all()
            except PictureError as exc:
                assert "\n" not in str(exc)
