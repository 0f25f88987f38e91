"""The ICC profiles, read by Little CMS through Pillow."""

import io
import struct

import numpy as np
import pytest
from PIL import Image, ImageCms

from lookwright.pictures.stills import profile_for
from lookwright.pictures.stills.icc import rgb_to_pcs

CODES = np.array([[[0, 0, 0], [255, 255, 255], [128, 128, 128], [200, 60, 30], [10, 120, 240], [64, 255, 0]]], np.uint8)


def _srgb_decode(v: np.ndarray) -> np.ndarray:  # IEC 61966-2-1
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def _srgb_encode(v: np.ndarray) -> np.ndarray:
    v = np.clip(v, 0, 1)
    return np.where(v <= 0.04045 / 12.92, v * 12.92, 1.055 * v ** (1 / 2.4) - 0.055)


CASES = {
    "sRGB": ("BT.709", _srgb_decode),
    "BT.1886/BT.709": ("BT.709", lambda v: v**2.4),
    "Display P3": ("P3-D65", _srgb_decode),
    "P3-D65 2.6": ("P3-D65", lambda v: v**2.6),
}


@pytest.mark.parametrize("name", CASES)
def test_little_cms_reads_the_colours_the_formula_gives(name: str) -> None:
    primaries, decode = CASES[name]
    data = profile_for(name)
    assert data is not None
    profile = ImageCms.ImageCmsProfile(io.BytesIO(data))
    srgb = ImageCms.createProfile("sRGB")
    transform = ImageCms.buildTransform(
        profile, srgb, "RGB", "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC, flags=ImageCms.Flags.NOOPTIMIZE
    )
    image = Image.fromarray(CODES)
    got = np.asarray(ImageCms.applyTransform(image, transform)).astype(int)
    linear = decode(CODES / 255.0) @ rgb_to_pcs(primaries).T @ np.linalg.inv(rgb_to_pcs("BT.709")).T
    want = np.rint(_srgb_encode(linear) * 255).astype(int)
    # One code of 255: Little CMS works in 16-bit steps and its own sRGB has rounded colorants.
    assert np.abs(got - want).max() <= 1


@pytest.mark.parametrize("name", CASES)
def test_header_and_tags(name: str) -> None:
    data = profile_for(name)
    assert data is not None
    assert struct.unpack(">I", data[:4])[0] == len(data)
    assert len(data) % 4 == 0  # ICC.1:2022 7.1.4: padded to four bytes
    profile = ImageCms.ImageCmsProfile(io.BytesIO(data)).profile
    assert profile.version == pytest.approx(4.4)
    assert profile.device_class == "mntr"
    assert profile.xcolor_space.strip() == "RGB"
    assert profile.connection_space.strip() == "XYZ"
    assert profile.is_matrix_shaper
    assert profile.profile_description
    # The white of the connection space, ICC.1:2022 7.2.16; half a step of s15Fixed16 is 8e-6.
    assert np.allclose(profile.media_white_point[0], (0.9642, 1.0, 0.8249), rtol=0, atol=1e-5)
    total = np.sum([profile.red_colorant[0], profile.green_colorant[0], profile.blue_colorant[0]], axis=0)
    # Three roundings of half a step each.
    assert np.allclose(total, (0.9642, 1.0, 0.8249), rtol=0, atol=3e-5)


def test_srgb_colorants_are_those_of_little_cms() -> None:
    # Its built-in sRGB is an independent computation (Bradford, D65 to D50).
    built_in = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).profile
    want = np.stack([built_in.red_colorant[0], built_in.green_colorant[0], built_in.blue_colorant[0]], axis=1)
    # 2e-4: Little CMS starts from a D65 white rounded another way than xy 0.3127, 0.3290.
    assert np.allclose(rgb_to_pcs("BT.709"), want, rtol=0, atol=2e-4)


def test_primaries_agree_with_colour_science() -> None:
    import colour

    for ours, theirs in (("BT.709", "ITU-R BT.709"), ("P3-D65", "P3-D65"), ("BT.2020", "ITU-R BT.2020")):
        space = colour.RGB_COLOURSPACES[theirs]
        whites = colour.xy_to_XYZ(space.whitepoint), np.array([0.9642, 1.0, 0.8249])
        adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(*whites, transform="Bradford")
        # 5e-4: colour-science stores matrices of four decimals for some of these spaces.
        assert np.allclose(rgb_to_pcs(ours), adapt @ space.matrix_RGB_to_XYZ, rtol=0, atol=5e-4)


def test_same_bytes_every_time_and_names_without_punctuation() -> None:
    assert profile_for("sRGB") == profile_for("s rgb")
    assert profile_for("BT.1886") == profile_for("bt1886 / bt709") == profile_for("BT.1886", "BT.709")
    assert profile_for("sRGB", "P3-D65") == profile_for("Display P3")
    assert profile_for("P3-D65 2.6") != profile_for("Display P3")


@pytest.mark.parametrize("name", ["ACEScct", "BT.2100 PQ", "BT.2100 HLG", "nonsense"])
def test_no_profile_for_what_a_curve_cannot_say(name: str) -> None:
    assert profile_for(name) is None


def test_no_profile_for_unknown_primaries() -> None:
    assert profile_for("sRGB", "ACEScg") is None
