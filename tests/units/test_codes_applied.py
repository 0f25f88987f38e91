"""Codes through a LUT to codes: the same as by way of the float picture."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lookwright.errors import PictureError
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.read import read_look
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.lattice import sample
from lookwright.pictures.stills import read, read_codes, write
from lookwright.pictures.stills.quantise import quantise

ROOT = Path(__file__).parents[2]


def exact(values: np.ndarray, most: int) -> np.ndarray:
    """The nearest code, ties up, in float64, which holds the product of a float32 and a 16-bit number exactly."""
    return np.floor(np.clip(values.astype(np.float64) * most + 0.5, 0, most + 0.5)).astype(int)


def test_eight_bits_are_exact_where_float32_would_round_to_the_next_code() -> None:
    """Every float32 within four steps of a border between two codes, and beyond the ends."""
    borders = ((np.arange(256) - 0.5) / 255.0).astype(np.float32)
    values = [borders]
    for direction in (-2.0, 2.0):
        beside = borders
        for _ in range(4):
            beside = np.nextafter(beside, np.float32(direction))
            values.append(beside)
    tried = np.concatenate([*values, np.array([-3.0, -0.0, 1.0, 1.5, 1e30], np.float32)])
    made = np.empty(tried.shape, np.uint8)
    quantise(tried, 8, made)
    assert np.array_equal(made, exact(tried, 255))
    naive = np.floor(np.clip(tried * np.float32(255) + np.float32(0.5), 0, 255.5)).astype(int)
    assert (naive != made).sum() > 30  # so the second look is needed
    # A few at a time take another way; in memory that was used before, too.
    scratch = np.full((2, 5), 7.0, np.float32)
    for start in range(0, len(tried) - 5):
        few = np.empty(5, np.uint8)
        quantise(tried[start : start + 5], 8, few, scratch=scratch)
        assert np.array_equal(few, made[start : start + 5])


@pytest.mark.parametrize("bits", [8, 10, 12, 16])
def test_random_values_are_exact(bits: int) -> None:
    values = np.random.default_rng(bits).uniform(-0.01, 1.01, 300_000).astype(np.float32)
    made = np.empty(values.shape, np.uint8 if bits == 8 else np.uint16)
    quantise(values, bits, made)
    assert np.array_equal(made, exact(values, (1 << bits) - 1))


@pytest.mark.parametrize("threads", [1, 3])
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("shape", [(1, 1, 3), (37, 211, 3), (400, 601, 3), (0, 5, 3)])
def test_codes_through_a_lattice_as_through_the_float_picture(kind: type, shape: tuple[int, ...], threads: int) -> None:
    applier = Applier(sample(lambda x: 1.3 * x[..., [1, 0, 2]] ** 1.7 - 0.1, 17), threads=threads)
    codes = np.random.default_rng(3).integers(0, np.iinfo(kind).max + 1, shape).astype(kind)
    white = np.float32(np.iinfo(kind).max)
    wanted = exact(applier(np.divide(codes, white, dtype=np.float32)), 255)
    assert np.array_equal(applier.coded(codes), wanted)
    kept = np.empty(shape, np.uint8)
    assert applier.coded(codes[::-1], kept) is kept and np.array_equal(kept, wanted[::-1])


def test_what_is_no_code_is_refused() -> None:
    applier = Applier(sample(lambda x: x, 2))
    good = np.zeros((2, 2, 3), np.uint16)
    for codes in (good.astype(np.float32), good[..., :2], good.astype(np.int32)):
        with pytest.raises(PictureError, match="uint8 or uint16"):
            applier.coded(codes)
    with pytest.raises(PictureError, match="same shape"):
        applier.coded(good, np.zeros((2, 2, 3), np.uint16))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["night-workshop", "overcast"])
def test_a_preview_has_the_codes_of_the_float_picture(tmp_path: Path, name: str) -> None:
    view = View(read_look(ROOT / f"looks/{name}.toml"), 9)
    path = ROOT / "sample_images/small/close_acescct.png"
    coded, still = read_codes(path), read(path)
    assert coded is not None and np.array_equal(coded.pixels, still.pixels) and coded.icc == still.icc
    assert coded.metadata == still.metadata
    made = view.graded_codes(coded.codes)
    write(tmp_path / "codes.png", made, "8")
    write(tmp_path / "float.png", view.graded(still.pixels), "8")
    assert (tmp_path / "codes.png").read_bytes() == (tmp_path / "float.png").read_bytes()
    assert np.array_equal(np.asarray(Image.open(tmp_path / "codes.png")), made)


def test_codes_are_read_upright_and_only_where_there_are_any(tmp_path: Path) -> None:
    pixels = np.random.default_rng(0).random((6, 9, 3)).astype(np.float32)
    for name, depth in (("a.png", "8"), ("a.png", "16"), ("a.tif", "16"), ("a.jpg", "8"), ("a.webp", "8")):
        path = write(tmp_path / name, pixels, depth)
        coded = read_codes(path)
        assert coded is not None and np.array_equal(coded.pixels, read(path).pixels), (name, depth)
    image = Image.open(tmp_path / "a.jpg")
    exif = image.getexif()
    exif[0x0112] = 6
    image.save(tmp_path / "turned.jpg", exif=exif)
    turned = read_codes(tmp_path / "turned.jpg")
    assert turned is not None and turned.codes.shape == (9, 6, 3) and turned.codes.flags.c_contiguous
    assert np.array_equal(turned.pixels, read(tmp_path / "turned.jpg").pixels)
    for name, depth in (("a.dpx", "10"), ("a.exr", "half"), ("a.tif", "float")):
        assert read_codes(write(tmp_path / name, pixels, depth)) is None
    assert read_codes(write(tmp_path / "alpha.png", pixels, "16", alpha=pixels[..., 0])) is None
