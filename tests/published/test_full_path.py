"""Whole decodings: signal (0.5, 0.4, 0.3) to linear ACES2065-1.

Expected values: OpenColorIO, tests/cpu/transforms/BuiltinTransform_tests.cpp (2.6), whose tolerance is 1e-6. The
choice of chromatic adaptation moves these results by 1.6e-4 and more, so it is part of what is checked.
"""

import numpy as np
import pytest

from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import SCENE_PRIMARIES, Signal

CODE = np.array([0.5, 0.4, 0.3])

# encoding, primaries, adaptation of the built-in transform, R G B, tolerance.
PATHS = [
    ("ACEScct", "ACEScg", "CAT02", (0.386397222658, 0.158557251811, 0.043152537925), 1e-9),
    # The published LogC3 constants have six digits, the reference uses the ten-digit ones they were rounded from.
    ("LogC3", "Wide Gamut 3", "CAT02", (0.401621427766, 0.236455447604, 0.064830001192), 2e-6),
    ("LogC4", "Wide Gamut 4", "CAT02", (1.786878082249, 0.743018593362, 0.232840037656), 1e-9),
    ("V-Log", "V-Gamut", "Bradford", (0.306918773245, 0.148128050597, 0.046334439047), 1e-9),
    ("REDLogFilm", "WideGamutRGB", "Bradford", (0.216116808829, 0.121529105934, 0.008171766322), 1e-9),
    ("Log3G10", "WideGamutRGB", "Bradford", (0.887988237100, 0.416932247547, -0.025442210717), 1e-9),
    ("S-Log3", "S-Gamut3", "CAT02", (0.342259707137, 0.172043362337, 0.057188031769), 1e-9),
    ("S-Log3", "S-Gamut3.Cine", "CAT02", (0.314942672433, 0.170408017753, 0.046854940520), 1e-9),
    # For these two only matrices are published, colour-science derives xy from them (2.7e-8); eight digits printed.
    ("S-Log3", "Venice S-Gamut3", "CAT02", (0.35101694, 0.17165215, 0.05479717), 5e-8),
    ("S-Log3", "Venice S-Gamut3.Cine", "CAT02", (0.32222527, 0.17032611, 0.04477848), 5e-8),
    # Nine digits printed and a float32 reference.
    ("Apple Log", "BT.2020", "Bradford", (0.153334766, 0.083515430, 0.032948254), 1e-7),
]


@pytest.mark.parametrize("row", PATHS, ids=lambda r: f"{r[0]}, {r[1]}")
def test_signal_to_aces2065_1(row: tuple[str, str, str, tuple[float, float, float], float]) -> None:
    name, gamut, cat, expected, tolerance = row
    signal = Signal.named(name, gamut)
    linear = signal.decode(CODE) @ matrix(signal.primaries.name, "ACES2065-1", cat).T
    np.testing.assert_allclose(linear, expected, rtol=0, atol=tolerance)


@pytest.mark.parametrize("row", [r for r in PATHS if r[2] == "CAT02"], ids=lambda r: f"{r[0]}, {r[1]}")
def test_the_working_path_is_that_path(row: tuple[str, str, str, tuple[float, float, float], float]) -> None:
    # to_scene() adapts with CAT02 for every source: for those whose own transform uses it, the same figures come out.
    name, gamut, _, expected, tolerance = row
    scene = Signal.named(name, gamut).to_scene(CODE)
    np.testing.assert_allclose(scene @ matrix(SCENE_PRIMARIES, "ACES2065-1").T, expected, rtol=0, atol=tolerance)


def test_the_wrong_adaptation_would_be_seen() -> None:
    signal = Signal.named("S-Log3", "S-Gamut3.Cine")
    right = np.array((0.314942672433, 0.170408017753, 0.046854940520))
    wrong = signal.decode(CODE) @ matrix(signal.primaries.name, "ACES2065-1", "Bradford").T
    assert np.abs(wrong - right).max() > 1.5e-4


# OpenColorIO, the same file: XYZ of D65 (0.5, 0.4, 0.3) to display code; the tolerances are those printed there.
# Its display transforms take 1.0 as 100 cd/m2, this program 1.0 as reference white (203 cd/m2) for PQ and HLG.
DISPLAYS = [
    ("BT.1886", 1.0, (0.937245093108, 0.586817090358, 0.573498106368), 1e-6),
    # Their sRGB joins its straight part elsewhere (CLF monCurve); at these levels the two differ below 1e-6.
    ("sRGB", 1.0, (0.933793573229, 0.564092030327, 0.550040502218), 1e-6),
    ("P3-D65 2.6", 1.0, (0.896805202281, 0.627254277624, 0.608228132100), 1e-6),
    ("Display P3", 1.0, (0.882580907776, 0.581526360743, 0.560636705), 1e-6),
    ("BT.2100 PQ", 100 / 203, (0.464008302136, 0.398157119110, 0.384828370950), 1e-5),
    ("BT.2100 HLG", 100 / 203, (0.5649694, 0.4038837, 0.3751478), 6e-5),
]


@pytest.mark.parametrize("row", DISPLAYS, ids=lambda r: r[0])
def test_xyz_to_display_code(row: tuple[str, float, tuple[float, float, float], float]) -> None:
    from lookwright.colour.spaces.primaries import primaries

    name, scale, expected, tolerance = row
    light = np.linalg.inv(primaries("BT.2020").to_xyz) @ np.array([0.5, 0.4, 0.3]) * scale
    np.testing.assert_allclose(Signal.named(name).from_light(light), expected, rtol=0, atol=tolerance)


# The gamut each curve is published with (documents as in test_log_encodings.py; where the maker names none of its own,
# BT.2020). S-Log3 has two, F-Log2 a later second one.
DEFAULTS = {
    "ACEScct": "ACEScg",
    "ACEScc": "ACEScg",
    "ACEScg": "ACEScg",
    "ACES2065-1": "ACES2065-1",
    "S-Log3": "S-Gamut3.Cine",
    "S-Log2": "S-Gamut",
    "V-Log": "V-Gamut",
    "LogC3": "Wide Gamut 3",
    "LogC4": "Wide Gamut 4",
    "Log3G10": "WideGamutRGB",
    "F-Log": "F-Gamut",
    "F-Log2": "F-Gamut",
    "N-Log": "N-Gamut",
    "D-Log": "D-Gamut",
    "L-Log": "BT.2020",
    "Apple Log": "BT.2020",
    "Mi-Log": "BT.2020",
    "BT.1886": "BT.709",
    "sRGB": "BT.709",
    "P3-D65 2.6": "P3-D65",
    "Display P3": "P3-D65",
    "BT.2100 PQ": "BT.2020",
    "BT.2100 HLG": "BT.2020",
}


def test_primaries_that_go_with_each_encoding() -> None:
    from lookwright.colour.spaces.encodings import CURATED

    assert {name: Signal.named(name).primaries.name for name in CURATED} == DEFAULTS
