"""Encodings against two general-purpose libraries: colour-science, and OpenColorIO's built-in transforms.

The curves written in colour/spaces/curves.py and camera_curves.py and the derived matrices have both as references;
for cameras without a built-in there (S-Log2, F-Log, F-Log2, N-Log, D-Log, L-Log, Mi-Log) colour-science and the
makers' tables in tests/published are the two. Any other log curve is evaluated by colour-science itself.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from lookwright.colour.spaces.encodings import _CAMERA, REFERENCE_WHITE_NITS, encoding
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.primaries import CAMERA_GAMUTS, known_primaries, matrix, primaries
from lookwright.colour.spaces.signal import Signal

CODES = np.linspace(0.0, 1.0, 4097)
GREYS = np.ascontiguousarray(np.repeat(CODES[:, None], 3, axis=1))
_AXIS = np.linspace(0.0, 1.0, 17)
COLOURS = np.stack(np.meshgrid(_AXIS, _AXIS, _AXIS, indexing="ij"), axis=-1).reshape(-1, 3)


@cache
def _builtin(name: str) -> object:
    import PyOpenColorIO as ocio

    processor = ocio.Config.CreateRaw().getProcessor(ocio.BuiltinTransform(name))
    # Without optimisation: the default replaces logarithms and powers by quicker ones (6.8e-5 in LogC4).
    return processor.getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_NONE)


def _ocio(name: str, x: np.ndarray) -> np.ndarray:
    import PyOpenColorIO as ocio

    pixels = np.ascontiguousarray(x, np.float32)
    _builtin(name).apply(ocio.PackedImageDesc(pixels, len(pixels), 1, 3))  # type: ignore[attr-defined]
    return pixels.astype(np.float64)


# encoding, primaries, built-in transform, its adaptation, relative tolerance with a floor of 1e-3 of light.
SCENE = [
    ("ACEScct", "ACEScg", "ACEScct_to_ACES2065-1", "CAT02", 1e-5),
    # OpenColorIO samples ACEScc into a 1D table of its own: 5.5e-6 measured.
    ("ACEScc", "ACEScg", "ACEScc_to_ACES2065-1", "CAT02", 1e-5),
    # OpenColorIO's ten-digit generating constants against the maker's six printed digits: 6.8e-5 near x = -8e-4.
    ("LogC3", "Wide Gamut 3", "ARRI_ALEXA-LOGC-EI800-AWG_to_ACES2065-1", "CAT02", 1e-4),
    ("LogC4", "Wide Gamut 4", "ARRI_LOGC4_to_ACES2065-1", "CAT02", 1e-5),
    # The maker's straight part has slope 5.6, OpenColorIO's the slope that joins smoothly, 5.60001055: 7.9e-5.
    ("V-Log", "V-Gamut", "PANASONIC_VLOG-VGAMUT_to_ACES2065-1", "Bradford", 1e-4),
    ("Log3G10", "WideGamutRGB", "RED_LOG3G10-RWG_to_ACES2065-1", "Bradford", 1e-5),
    ("REDLogFilm", "WideGamutRGB", "RED_REDLOGFILM-RWG_to_ACES2065-1", "Bradford", 1e-5),
    ("S-Log3", "S-Gamut3", "SONY_SLOG3-SGAMUT3_to_ACES2065-1", "CAT02", 1e-5),
    ("S-Log3", "S-Gamut3.Cine", "SONY_SLOG3-SGAMUT3.CINE_to_ACES2065-1", "CAT02", 1e-5),
    ("Apple Log", "BT.2020", "APPLE_LOG_to_ACES2065-1", "Bradford", 1e-5),
]


@pytest.mark.parametrize("row", SCENE, ids=lambda r: f"{r[0]}, {r[1]}")
def test_scene_signal_to_aces2065_1(row: tuple[str, str, str, str, float]) -> None:
    name, gamut, builtin, cat, tolerance = row
    signal = Signal.named(name, gamut)
    to_aces = matrix(signal.primaries.name, "ACES2065-1", cat).T
    for codes in (GREYS, COLOURS):
        linear = signal.decode(codes)
        got, expected = linear @ to_aces, _ocio(builtin, codes)
        if name == "ACEScc":  # that built-in, alone among these, ends in a clamp at zero
            got = np.maximum(got, 0.0)
        # float32 loses digits where a matrix subtracts large channels from each other: relative to the largest.
        scale = np.maximum(np.abs(linear).max(axis=-1, keepdims=True), 1e-3)
        assert (np.abs(got - expected) / scale).max() < tolerance


# encoding, built-in transform, light that the built-in calls 1.0 in ours, least light compared, absolute tolerance in
# code value. A channel that should be 0 is 1e-7 after OpenColorIO's float32 matrix, which the steep dark end of a
# curve turns into 1e-3 of code. So the least light is 1e-4 of white, where it still makes 1.5e-5 of code.
DISPLAY = [
    ("BT.1886", "DISPLAY - CIE-XYZ-D65_to_REC.1886-REC.709", 1.0, 1e-4, 2e-5),
    # OpenColorIO joins sRGB's parts at 0.0392857 with equal slopes (CLF monCurve) where IEC 61966-2-1 prints
    # rounded constants: 9.8e-6 at most, near 0.003.
    ("sRGB", "DISPLAY - CIE-XYZ-D65_to_sRGB", 1.0, 1e-4, 1.2e-5),
    ("P3-D65 2.6", "DISPLAY - CIE-XYZ-D65_to_G2.6-P3-D65", 1.0, 1e-4, 2e-5),
    ("Display P3", "DISPLAY - CIE-XYZ-D65_to_DisplayP3", 1.0, 1e-4, 1.2e-5),
    # 1.0 is 100 cd/m2 there and reference white (203 cd/m2) here. 1e-5 is the tolerance of its own tests.
    ("BT.2100 PQ", "DISPLAY - CIE-XYZ-D65_to_REC.2100-PQ", 100 / REFERENCE_WHITE_NITS, 1e-4, 2e-5),
    # OpenColorIO keeps luminance from going under a floor in the inverse OOTF, whose exponent is negative; BT.2100
    # has no floor. Below 1e-3 (0.1 cd/m2) the two part by up to 1.5e-3 of code.
    ("BT.2100 HLG", "DISPLAY - CIE-XYZ-D65_to_REC.2100-HLG-1000nit", 100 / REFERENCE_WHITE_NITS, 1e-3, 2e-6),
]


@pytest.mark.parametrize("row", DISPLAY, ids=lambda r: r[0])
def test_display_light_to_code(row: tuple[str, str, float, float, float]) -> None:
    name, builtin, scale, least, tolerance = row
    signal = Signal.named(name)
    # Light inside the output's own primaries, from black to white, so that nothing clips on either side.
    light = least + (1.0 - least) * np.concatenate([GREYS, COLOURS]) ** 2.4
    xyz = light @ signal.primaries.to_xyz.T
    ours = light @ matrix(signal.primaries.name, "BT.2020").T * scale
    np.testing.assert_allclose(signal.from_light(ours), _ocio(builtin, xyz), rtol=0, atol=tolerance)


@pytest.mark.parametrize("name", ["ACEScct", "ACEScc"])
def test_own_log_curves_against_colour_science(name: str) -> None:
    colour = colour_library()
    codes = np.linspace(-0.1, 1.2, 2601)
    light = encoding(name).decode(codes)
    with np.errstate(all="ignore"):  # the library evaluates both branches of a curve everywhere
        expected_light, expected_code = colour.LOG_DECODINGS[name](codes), colour.LOG_ENCODINGS[name](light)
    np.testing.assert_allclose(light, expected_light, rtol=1e-12, atol=1e-16)
    np.testing.assert_allclose(encoding(name).encode(light), expected_code, rtol=0, atol=1e-13)


def test_own_display_curves_against_colour_science() -> None:
    colour = colour_library()
    codes = np.linspace(0.0, 1.0, 1001)
    # At 0.04045 itself the library takes the power, the standard the straight part; they differ by 2e-9 there.
    np.testing.assert_allclose(encoding("sRGB").decode(codes), colour.models.eotf_sRGB(codes), rtol=0, atol=3e-9)
    np.testing.assert_allclose(
        encoding("BT.1886").decode(codes), colour.models.eotf_BT1886(codes, L_B=0.0, L_W=1.0), rtol=0, atol=1e-13
    )
    np.testing.assert_allclose(
        encoding("P3-D65 2.6").decode(codes), colour.models.gamma_function(codes, 2.6), rtol=0, atol=1e-15
    )


# The last column is how far the maker's stored matrix (4 to 6 digits) lies from the one derived from its xy.
STORED = {"V-Gamut": 1e-6, "Wide Gamut 3": 1e-6, "WideGamutRGB": 1e-6, "D-Gamut": 2e-4}


@pytest.mark.parametrize("name", known_primaries())
def test_matrices_against_colour_science(name: str) -> None:
    colour = colour_library()
    ours = primaries(name)
    derived = colour.normalised_primary_matrix(np.array(ours.xy), np.array(ours.white))
    np.testing.assert_allclose(ours.to_xyz, derived, rtol=0, atol=1e-14)
    for cat, key in (("CAT02", "CAT02"), ("CAT16", "CAT16"), ("Bradford", "Bradford")):
        adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
            colour.xy_to_XYZ(np.array(ours.white)), primaries("ACEScg").to_xyz @ np.ones(3), key
        )
        expected = np.linalg.inv(primaries("ACEScg").to_xyz) @ adapt @ derived
        np.testing.assert_allclose(matrix(name, "ACEScg", cat), expected, rtol=0, atol=1e-13)


@pytest.mark.parametrize("name", STORED)
def test_stored_camera_matrices_are_the_derived_ones_rounded(name: str) -> None:
    from lookwright.colour.spaces.primaries import CAMERA_GAMUTS

    stored = colour_library().RGB_COLOURSPACES[CAMERA_GAMUTS[name]].matrix_RGB_to_XYZ
    np.testing.assert_allclose(primaries(name).to_xyz, stored, rtol=0, atol=STORED[name])


def test_cdl_against_opencolorio() -> None:
    import PyOpenColorIO as ocio

    from lookwright.colour.cdl import apply_cdl

    rng = np.random.default_rng(11)
    x = rng.uniform(-0.1, 1.2, (400, 3))
    for _ in range(20):
        slope, power = rng.uniform(0.5, 2.0, 3), rng.uniform(0.5, 2.0, 3)
        offset, saturation = rng.uniform(-0.2, 0.2, 3), float(rng.uniform(0.0, 2.0))
        grade = ocio.CDLTransform()  # its default style is the one without clamps
        grade.setSlope(slope.tolist())
        grade.setOffset(offset.tolist())
        grade.setPower(power.tolist())
        grade.setSat(saturation)
        processor = ocio.Config.CreateRaw().getProcessor(grade)
        cpu = processor.getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_NONE)
        pixels = np.ascontiguousarray(x, np.float32)
        cpu.apply(ocio.PackedImageDesc(pixels, len(pixels), 1, 3))
        # float32 pixels and OpenColorIO's quick power: 1e-5 of values up to 6.
        np.testing.assert_allclose(apply_cdl(x, slope, offset, power, saturation), pixels, rtol=1e-5, atol=1e-5)


OF_CAMERAS = [name for name, *_ in _CAMERA]


@pytest.mark.parametrize("name", OF_CAMERAS)
def test_own_camera_curves_against_colour_science(name: str) -> None:
    """To rounding, toe and cuts included, and beyond the codes in use at both ends."""
    registered = next(key for camera, key, *_ in _CAMERA if camera == name)
    colour = colour_library()
    codes = np.linspace(-0.2, 1.3, 30001)
    light = np.concatenate([np.linspace(-0.05, 0.05, 20001), 10.0 ** np.linspace(-6.0, 3.0, 20001)])
    with np.errstate(all="ignore"):  # the library evaluates both branches of a curve everywhere
        expected_light, expected_code = colour.LOG_DECODINGS[registered](codes), colour.LOG_ENCODINGS[registered](light)
    # Of light below 1e-3 the absolute error counts: near black the logarithm's digits cancel.
    scale = np.maximum(np.abs(expected_light), 1e-3)
    assert (np.abs(encoding(name).decode(codes) - expected_light) / scale).max() < 1e-13
    np.testing.assert_allclose(encoding(name).encode(light), expected_code, rtol=0, atol=1e-14)


def test_own_hdr_curves_against_colour_science() -> None:
    models = colour_library().models
    codes, nits = np.linspace(0.0, 1.0, 10001), np.linspace(0.0, 10000.0, 10001)
    pq, hlg = encoding("BT.2100 PQ"), encoding("BT.2100 HLG")
    np.testing.assert_allclose(pq.decode(codes) * REFERENCE_WHITE_NITS, models.eotf_ST2084(codes), rtol=1e-14, atol=0)
    expected = models.eotf_inverse_ST2084(nits)
    # 203 there and back moves the last digit of cd/m2, and PQ is steep near black.
    np.testing.assert_allclose(pq.encode(nits / REFERENCE_WHITE_NITS), expected, rtol=0, atol=1e-13)
    of_1000 = {"L_B": 0, "L_W": 1000, "gamma": 1.2}
    shown = hlg.decode(COLOURS) * REFERENCE_WHITE_NITS
    np.testing.assert_allclose(shown, models.eotf_BT2100_HLG(COLOURS, **of_1000), rtol=1e-14, atol=0)
    with np.errstate(all="ignore"):  # black divides 0 by 0 inside its inverse
        signal = np.nan_to_num(np.clip(models.eotf_inverse_BT2100_HLG(COLOURS * 1000.0, **of_1000), 0.0, 1.0))
    np.testing.assert_allclose(hlg.encode(COLOURS * 1000.0 / REFERENCE_WHITE_NITS), signal, rtol=0, atol=1e-15)


@pytest.mark.parametrize("name", CAMERA_GAMUTS)
def test_own_camera_primaries_against_colour_science(name: str) -> None:
    space = colour_library().RGB_COLOURSPACES[CAMERA_GAMUTS[name]]
    np.testing.assert_array_equal(primaries(name).xy, np.reshape(space.primaries, (3, 2)))
    np.testing.assert_array_equal(primaries(name).white, space.whitepoint)
