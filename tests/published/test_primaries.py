"""Primaries and matrices against the digits the standards print."""

import numpy as np
import pytest

from lookwright.colour.spaces.primaries import CAMERA_GAMUTS, known_primaries, matrix, primaries
from lookwright.errors import NameLookupError

# Academy aces-dev README-MATRIX.md and aces-docs (TRA1, TRA2): ten decimals printed; half of the last is 5e-11.
ACADEMY = {
    "AP0 to AP1": "1.4514393161 -0.2365107469 -0.2149285693 "
    "-0.0765537734 1.1762296998 -0.0996759264 0.0083161484 -0.0060324498 0.9977163014",
    "AP1 to AP0": "0.6954522414 0.1406786965 0.1638690622 "
    "0.0447945634 0.8596711185 0.0955343182 -0.0055258826 0.0040252103 1.0015006723",
    "AP0 to XYZ": "0.9525523959 0 0.0000936786 0.3439664498 0.7281660966 -0.0721325464 0 0 1.0088251844",
    "AP1 to XYZ": "0.6624541811 0.1340042065 0.1561876870 "
    "0.2722287168 0.6740817658 0.0536895174 -0.0055746495 0.0040607335 1.0103391003",
}

# RGB to XYZ from the xy of BT.709-6 item 1.3, BT.2020-2 table 3, SMPTE EG 432-1: derived once with colour-science
# 0.4.7, which agrees with OpenColorIO to 3e-16 (ten decimals kept).
RGB_TO_XYZ = {
    "BT.709": "0.4123907993 0.3575843394 0.1804807884 0.2126390059 0.7151686788 0.0721923154 "
    "0.0193308187 0.1191947798 0.9505321522",
    "BT.2020": "0.6369580483 0.1446169036 0.1688809752 0.2627002120 0.6779980715 0.0593017165 "
    "0 0.0280726930 1.0609850577",
    "P3-D65": "0.4865709486 0.2656676932 0.1982172852 0.2289745641 0.6917385218 0.0792869141 "
    "0 0.0451133819 1.0439443689",
}

# Luma weights as the standards print them: BT.709-6 item 3.2, BT.2020-2 table 4; P3 as derived (7 digits).
LUMA = {
    "BT.709": ((0.2126, 0.7152, 0.0722), 5e-5),
    "BT.2020": ((0.2627, 0.6780, 0.0593), 5e-5),
    "P3-D65": ((0.2289746, 0.6917385, 0.0792869), 5e-8),
}

# AP1 to BT.709, derived; colour-science and OpenColorIO agree to 1e-10.
AP1_TO_709 = {
    "Bradford": "1.7050509927 -0.6217921207 -0.0832588720 -0.1302564175 1.1408047366 -0.0105483191 "
    "-0.0240033568 -0.1289689761 1.1529723329",
    "CAT02": "1.7050796436 -0.6242334615 -0.0808461821 -0.1297005301 1.1384685466 -0.0087680165 "
    "-0.0241663449 -0.1246141581 1.1487805030",
}

# xy as the makers publish them (tables in colour-science and OpenColorIO), white D65.
CAMERA_XY = {
    "S-Gamut3": "0.730 0.280 0.140 0.855 0.100 -0.050",
    "S-Gamut3.Cine": "0.766 0.275 0.225 0.800 0.089 -0.087",
    "S-Gamut": "0.730 0.280 0.140 0.855 0.100 -0.050",
    "V-Gamut": "0.730 0.280 0.165 0.840 0.100 -0.030",
    "Wide Gamut 3": "0.6840 0.3130 0.2210 0.8480 0.0861 -0.1020",
    "Wide Gamut 4": "0.7347 0.2653 0.1424 0.8576 0.0991 -0.0308",
    "WideGamutRGB": "0.780308 0.304253 0.121595 1.493994 0.095612 -0.084589",
    "F-Gamut": "0.708 0.292 0.170 0.797 0.131 0.046",
    "F-Gamut C": "0.7347 0.2653 0.0263 0.9737 0.1173 -0.0224",
    "N-Gamut": "0.708 0.292 0.170 0.797 0.131 0.046",
    "D-Gamut": "0.71 0.31 0.21 0.88 0.09 -0.08",
}


def _table(text: str) -> np.ndarray:
    return np.array([float(n) for n in text.split()]).reshape(3, -1)


@pytest.mark.parametrize("pair", ACADEMY)
def test_academy_matrices(pair: str) -> None:
    source, _, target = pair.split()
    got = primaries(source).to_xyz if target == "XYZ" else matrix(source, target)
    np.testing.assert_allclose(got, _table(ACADEMY[pair]), rtol=0, atol=5.001e-11)


@pytest.mark.parametrize("name", RGB_TO_XYZ)
def test_rgb_to_xyz(name: str) -> None:
    np.testing.assert_allclose(primaries(name).to_xyz, _table(RGB_TO_XYZ[name]), rtol=0, atol=5.001e-11)


@pytest.mark.parametrize("name", LUMA)
def test_luma_weights(name: str) -> None:
    expected, half_digit = LUMA[name]
    np.testing.assert_allclose(primaries(name).luminance, expected, rtol=0, atol=half_digit)


@pytest.mark.parametrize("cat", AP1_TO_709)
def test_working_primaries_to_bt709(cat: str) -> None:
    np.testing.assert_allclose(matrix("ACEScg", "BT.709", cat), _table(AP1_TO_709[cat]), rtol=0, atol=5.001e-11)


def test_the_adaptation_used_by_default_is_cat02() -> None:
    assert np.array_equal(matrix("ACEScg", "BT.709"), matrix("ACEScg", "BT.709", "CAT02"))


@pytest.mark.parametrize("name", CAMERA_XY)
def test_camera_primaries(name: str) -> None:
    found = primaries(name)
    np.testing.assert_allclose(np.ravel(found.xy), _table(CAMERA_XY[name]).ravel(), rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.white, (0.3127, 0.3290), rtol=0, atol=1e-12)


def test_every_camera_gamut_is_checked_here() -> None:
    assert set(CAMERA_XY) == set(CAMERA_GAMUTS)


@pytest.mark.parametrize("name", known_primaries())
def test_white_goes_to_white(name: str) -> None:
    # By construction (SMPTE RP 177): R = G = B = 1 is the white of the set, adapted or not.
    for target in ("ACEScg", "BT.2020", "BT.709"):
        np.testing.assert_allclose(matrix(name, target) @ np.ones(3), np.ones(3), rtol=0, atol=1e-14)


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("ap1", "ACEScg"),
        ("AP-0", "ACES2065-1"),
        ("srgb", "BT.709"),
        ("Rec 2020", "BT.2020"),
        ("s gamut3 cine", "S-Gamut3.Cine"),
        ("display-p3", "P3-D65"),
        ("dji d-gamut", "D-Gamut"),
    ],
)
def test_names_are_forgiving(spelling: str, name: str) -> None:
    assert primaries(spelling).name == name


def test_an_unknown_name_gets_near_matches() -> None:
    with pytest.raises(NameLookupError, match=r"unknown primaries 'BT.2021'.*did you mean.*'BT.2020'"):
        primaries("BT.2021")
