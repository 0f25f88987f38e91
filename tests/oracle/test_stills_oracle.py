"""Pictures against independent readers and writers: tifffile, Pillow, FFmpeg, and bytes decoded by hand.

Each is used only for what it reads exactly.
"""

import struct
import subprocess
import zlib
from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import PictureError
from lookwright.pictures.stills import profile_for, read, write

SAMPLES = Path(__file__).parents[2] / "sample_images"
RNG = np.random.default_rng(11)
EIGHT = RNG.integers(0, 256, (45, 62, 4), dtype=np.uint8)
SIXTEEN = RNG.integers(0, 65536, (45, 62, 4), dtype=np.uint16)


def _png16(data: np.ndarray) -> bytes:
    """A 16-bit PNG by hand (PNG specification: filter 0, big-endian samples)."""
    kind = {1: 0, 2: 4, 3: 2, 4: 6}[data.shape[2]]
    rows = b"".join(b"\0" + row.astype(">u2").tobytes() for row in data)

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", data.shape[1], data.shape[0], 16, kind, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def _ffmpeg(path: Path, form: str) -> bytes:
    import imageio_ffmpeg

    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", str(path), "-f", "rawvideo"]
    return subprocess.run([*command, "-pix_fmt", form, "-"], capture_output=True, check=True).stdout


def _codes(pixels: np.ndarray, most: int) -> np.ndarray:
    scaled = pixels.astype(np.float64) * most
    # code / most rounded to float32 lies within half a unit in the last place of the exact quotient.
    assert np.abs(scaled - np.rint(scaled)).max() <= most * 2.0**-24
    return np.rint(scaled).astype(int)


def test_eight_bit_png_written_by_pillow(tmp_path: Path) -> None:
    from PIL import Image

    path = tmp_path / "a.png"
    for count, mode in ((1, "L"), (2, "LA"), (3, "RGB"), (4, "RGBA")):
        data = EIGHT[..., :count] if count > 1 else EIGHT[..., 0]
        Image.fromarray(data).save(path)
        with Image.open(path) as image:
            assert image.mode == mode
        still = read(path)
        colour = EIGHT[..., :1] if count < 3 else EIGHT[..., :3]
        assert still.depth == "8"
        assert np.array_equal(_codes(still.pixels, 255), np.broadcast_to(colour, (45, 62, 3)))
        if count in (2, 4):
            assert still.alpha is not None
            assert np.array_equal(_codes(still.alpha, 255), EIGHT[..., count - 1])
        else:
            assert still.alpha is None


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_sixteen_bit_png_made_by_hand_keeps_all_its_bits(tmp_path: Path, count: int) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(_png16(SIXTEEN[..., :count]))
    still = read(path)
    colour = SIXTEEN[..., :1] if count < 3 else SIXTEEN[..., :3]
    assert still.depth == "16"
    assert np.array_equal(_codes(still.pixels, 65535), np.broadcast_to(colour, (45, 62, 3)))
    assert (still.alpha is not None) == (count in (2, 4))
    if still.alpha is not None:
        # Colour under part coverage is not multiplied by it: every code survives.
        assert np.array_equal(_codes(still.alpha, 65535), SIXTEEN[..., count - 1])


@pytest.mark.parametrize("with_alpha", [False, True])
def test_sixteen_bit_png_read_back_by_ffmpeg(tmp_path: Path, with_alpha: bool) -> None:
    count = 4 if with_alpha else 3
    data = SIXTEEN / 65535
    path = write(tmp_path / "a.png", data[..., :3], "16", alpha=data[..., 3] if with_alpha else None)
    got = np.frombuffer(_ffmpeg(path, "rgba64le" if with_alpha else "rgb48le"), "<u2").reshape(45, 62, count)
    assert np.array_equal(got, SIXTEEN[..., :count])


def test_palette_and_one_bit_png(tmp_path: Path) -> None:
    from PIL import Image

    path = tmp_path / "a.png"
    for image in (Image.fromarray(EIGHT[..., :3]).quantize(16), Image.fromarray(EIGHT[..., 0]).convert("1")):
        image.save(path)
        assert np.array_equal(_codes(read(path).pixels, 255), np.asarray(image.convert("RGB")))


TIFFS = {
    "8": EIGHT,
    "16": SIXTEEN,
    "half": RNG.normal(0.5, 3, (45, 62, 4)).astype(np.float16),
    "float": RNG.normal(0.5, 3, (45, 62, 4)).astype(np.float32),
}


@pytest.mark.parametrize("depth", TIFFS)
@pytest.mark.parametrize("layout", ["contig", "separate", "tiled", "big", "little-endian zlib", "grey", "alpha"])
def test_tiff_written_by_tifffile(tmp_path: Path, depth: str, layout: str) -> None:
    import tifffile

    data = TIFFS[depth]
    rgb, path = data[..., :3], tmp_path / "a.tif"
    if layout == "contig":
        tifffile.imwrite(path, rgb, photometric="rgb", byteorder=">")
    elif layout == "separate":
        tifffile.imwrite(path, np.moveaxis(rgb, 2, 0).copy(), photometric="rgb", planarconfig="separate")
    elif layout == "tiled":
        tifffile.imwrite(path, rgb, photometric="rgb", tile=(16, 16))
    elif layout == "big":
        tifffile.imwrite(path, rgb, photometric="rgb", bigtiff=True)
    elif layout == "grey":
        tifffile.imwrite(path, data[..., 0], photometric="minisblack")
        rgb = np.repeat(data[..., :1], 3, axis=2)
    elif layout == "alpha":
        tifffile.imwrite(path, data, photometric="rgb", extrasamples=["unassalpha"])
    else:
        tifffile.imwrite(path, rgb, photometric="rgb", compression="zlib", byteorder="<")
    still = read(path)
    most = {"8": 255, "16": 65535}.get(depth)
    assert still.depth == depth
    for got, want in ((still.pixels, rgb), (still.alpha, data[..., 3] if layout == "alpha" else None)):
        if want is None:
            assert got is None
        else:
            assert got is not None
            assert np.array_equal(_codes(got, most) if most else got, want)


def test_tiff_with_premultiplied_colour_is_divided(tmp_path: Path) -> None:
    import tifffile

    data = np.array([[[0.1, 0.2, 0.3, 0.5], [0.1, 0.2, 0.3, 1.0], [0.1, 0.2, 0.3, 0.0]]], np.float32)
    tifffile.imwrite(tmp_path / "a.tif", data, photometric="rgb", extrasamples=["assocalpha"])
    want = data[..., :3].copy()
    want[0, 0] /= np.float32(0.5)
    assert np.array_equal(read(tmp_path / "a.tif").pixels, want)


def test_tiff_where_zero_is_white(tmp_path: Path) -> None:
    import tifffile

    tifffile.imwrite(tmp_path / "a.tif", EIGHT[..., 0], photometric="miniswhite")
    assert np.array_equal(_codes(read(tmp_path / "a.tif").pixels[..., 0], 255), 255 - EIGHT[..., 0].astype(int))


@pytest.mark.parametrize("depth", TIFFS)
def test_tiff_read_back_by_tifffile(tmp_path: Path, depth: str) -> None:
    import tifffile

    most = {"8": 255, "16": 65535}.get(depth)
    data = TIFFS[depth] / most if most else TIFFS[depth].astype(np.float32)
    path = write(tmp_path / "a.tif", data[..., :3], depth, alpha=data[..., 3])
    got = tifffile.imread(path)
    assert got.dtype == TIFFS[depth].dtype
    assert np.array_equal(got, TIFFS[depth])
    with tifffile.TiffFile(path) as file:
        assert file.pages.first.tags["ExtraSamples"].value in (2, (2,))  # TIFF 6.0: 2 is unassociated alpha


def _dpx(data: np.ndarray, order: str, padded_low: bool) -> bytes:
    """A 10-bit RGB DPX by hand: SMPTE ST 268, one pixel in each 32-bit word, two padding bits."""
    height, width, _ = data.shape
    head = bytearray(b"\xff" * 2048)
    head[0:4] = struct.pack(order + "I", 0x53445058)
    head[4:8] = struct.pack(order + "I", 2048)
    head[8:16] = b"V1.0\0\0\0\0"
    head[16:20] = struct.pack(order + "I", 2048 + 4 * height * width)
    head[36:768] = bytes(732)
    head[768:780] = struct.pack(order + "HHII", 0, 1, width, height)
    # Element: unsigned, low and high reference, descriptor 50 (RGB), transfer 0, colorimetric 0, 10 bits,
    # packing 1 (padding below) or 2 (padding above), no encoding, data offset.
    head[780:804] = struct.pack(order + "IIfIf4B", 0, 0, 0.0, 1023, 0.0, 50, 0, 0, 10)
    head[804:816] = struct.pack(order + "HHIi", 1 if padded_low else 2, 0, 2048, 0)
    shift = 2 if padded_low else 0
    r, g, b = (data[..., i].astype(np.uint32) for i in range(3))
    words = (r << (20 + shift)) | (g << (10 + shift)) | (b << shift)
    return bytes(head) + words.astype(order + "u4").tobytes()


@pytest.mark.parametrize("order", [">", "<"])
def test_ten_bit_dpx_made_by_hand(tmp_path: Path, order: str) -> None:
    codes = np.arange(1023, -1, -1).repeat(3).reshape(32, 32, 3)
    codes[..., 1] = codes[..., 1][::-1]
    codes[..., 2] = codes[..., 2].T
    path = tmp_path / "a.dpx"
    path.write_bytes(_dpx(codes, order, padded_low=True))
    still = read(path)
    assert still.depth == "10"
    assert np.array_equal(still.pixels, (codes / 1023).astype(np.float32))


@pytest.mark.parametrize(("depth", "form"), [("8", "gbrp"), ("10", "gbrp10le"), ("12", "gbrp12le"), ("16", "rgb48le")])
@pytest.mark.parametrize("width", [61, 64])
def test_dpx_read_back_by_ffmpeg(tmp_path: Path, depth: str, form: str, width: int) -> None:
    most = 2 ** int(depth) - 1
    codes = RNG.integers(0, most + 1, (20, width, 3))
    path = write(tmp_path / "a.dpx", codes / most, depth)
    raw = np.frombuffer(_ffmpeg(path, form), "u1" if depth == "8" else "<u2")
    if form.startswith("gbrp"):
        got = raw.reshape(3, 20, width)[[2, 0, 1]].transpose(1, 2, 0)
    else:
        got = raw.reshape(20, width, 3)
    assert np.array_equal(got, codes)
    assert path.name.encode() in path.read_bytes()[36:136]


@pytest.mark.parametrize(("depth", "form", "kind"), [("half", "gbrpf16le", "<f2"), ("float", "gbrpf32le", "<f4")])
def test_exr_read_back_by_ffmpeg(tmp_path: Path, depth: str, form: str, kind: str) -> None:
    data = RNG.uniform(0, 1, (20, 30, 3)).astype(kind).astype(np.float32)
    path = write(tmp_path / "a.exr", data, depth)
    got = np.frombuffer(_ffmpeg(path, form), kind).reshape(3, 20, 30)[[2, 0, 1]].transpose(1, 2, 0)
    assert np.array_equal(got, data)


def test_jpeg_decoded_alike_by_pillow(tmp_path: Path) -> None:
    from PIL import Image

    path = tmp_path / "a.jpg"
    Image.fromarray(EIGHT[..., :3]).save(path, quality=90, subsampling=0)
    # Two builds of libjpeg-turbo may differ by one code in the inverse transform.
    with Image.open(path) as image:
        assert np.abs(_codes(read(path).pixels, 255) - np.asarray(image).astype(int)).max() <= 1
    Image.fromarray(EIGHT[..., 0]).save(path)
    assert read(path).pixels.shape == (45, 62, 3)


@pytest.mark.parametrize("with_alpha", [False, True])
def test_webp_read_back_by_pillow_and_ffmpeg(tmp_path: Path, with_alpha: bool) -> None:
    """Written through imageio, decoded by Pillow's libwebp and by FFmpeg's own decoder: every code, and the profile."""
    from PIL import Image

    icc = profile_for("BT.1886", "BT.709")
    alpha = EIGHT[..., 3] / 255.0 if with_alpha else None
    path = write(tmp_path / "a.webp", EIGHT[..., :3] / 255.0, alpha=alpha, icc=icc)
    want = EIGHT if with_alpha else EIGHT[..., :3]
    with Image.open(path) as image:
        assert image.format == "WEBP" and image.info["icc_profile"] == icc
        assert np.array_equal(np.asarray(image), want)
    form = "rgba" if with_alpha else "rgb24"
    assert np.array_equal(np.frombuffer(_ffmpeg(path, form), np.uint8).reshape(want.shape), want)


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "L"])
@pytest.mark.parametrize("lossless", [True, False])
def test_webp_of_others_decoded_alike_by_imageio(tmp_path: Path, mode: str, lossless: bool) -> None:
    import imageio.v3 as iio

    data = {"RGB": EIGHT[..., :3], "RGBA": EIGHT, "L": EIGHT[..., 0]}[mode]
    path = tmp_path / "a.webp"
    iio.imwrite(path, data, lossless=lossless, exact=True, plugin="pillow")
    want = iio.imread(path, plugin="pillow")  # a grey picture is stored as three channels
    still = read(path)
    assert np.array_equal(_codes(still.pixels, 255), want[..., :3])
    assert (still.alpha is not None) == (mode == "RGBA")
    if still.alpha is not None:
        assert np.array_equal(_codes(still.alpha, 255), want[..., 3])
    if lossless:
        assert np.array_equal(want[..., :3], data[..., :3] if data.ndim == 3 else data[..., None].repeat(3, axis=2))


def test_a_webp_cut_short_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "a.webp", EIGHT[..., :3] / 255.0)
    whole = path.read_bytes()
    for keep in (len(whole) - 2, len(whole) // 2, 40, 20):
        path.write_bytes(whole[:keep])
        with pytest.raises(PictureError, match="WebP is damaged or cut short"):
            read(path)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_as_pillow_applies_it(tmp_path: Path, orientation: int) -> None:
    from PIL import Image, ImageOps

    image = Image.fromarray(EIGHT[..., :3])
    tags = Image.Exif()
    tags[0x0112] = orientation
    path = tmp_path / "a.png"
    image.save(path, exif=tags)
    with Image.open(path) as stored:
        want = np.asarray(ImageOps.exif_transpose(stored))
    still = read(path)
    assert np.array_equal(_codes(still.pixels, 255), want)
    assert still.pixels.flags.c_contiguous


def test_sample_stills_hold_ten_bit_codes() -> None:
    pixels = read(SAMPLES / "close_acescct.png").pixels
    assert pixels.shape == (1080, 1920, 3)
    # sample_images/scene/common.py stores round(code * 65535 / 1023): half a 16-bit step at most.
    codes = pixels.astype(np.float64) * 1023
    assert np.abs(codes - np.rint(codes)).max() <= 0.5 * 1023 / 65535 + 1e-4
    # More than 8 bits arrived: an 8-bit reading could not have more than 256 values.
    assert len(np.unique(pixels[..., 0])) > 256
