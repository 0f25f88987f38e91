"""Log curves against the figures their makers and the Academy print.

Sources, as named in each table:
S-2016-001 (ACEScct), S-2014-003 (ACEScc): Academy specifications, equations 1 to 3.
Makers' tables: the integers printed in their white papers, as the docstrings of colour-science reproduce
them; the documents are named beside each row.
Formula values: the printed formula and constants, evaluated once in float64 with colour-science 0.4.7 and
written down here, so that a later change of that library shows.
"""

import numpy as np
import pytest

from lookwright.colour.spaces.encodings import CURATED, encoding

FULL_CODE = 1023.0


def _encode(name: str, light: float) -> float:
    return float(encoding(name).encode(np.array([light]))[0])


def _decode(name: str, code: float) -> float:
    return float(encoding(name).decode(np.array([code]))[0])


# S-2016-001, equation 1, evaluated in double precision; X_BRK and Y_BRK are printed there.
ACESCCT_ENCODED = [
    (0.0, 0.0729055341958355),
    (0.0078125, 0.155251141552511),
    (0.18, 0.413588402492442),
    (0.9, 0.546118544895),
    (1.0, 0.554794520548),
]


@pytest.mark.parametrize(("light", "code"), ACESCCT_ENCODED)
def test_acescct_encode(light: float, code: float) -> None:
    # Printed to 12 or more digits; half of the twelfth.
    np.testing.assert_allclose(_encode("ACEScct", light), code, rtol=0, atol=5e-13)


# OpenColorIO, tests/cpu/transforms/BuiltinTransform_tests.cpp, read as ACEScct before the matrix; S-2016-001 eq. 3.
@pytest.mark.parametrize(("code", "light"), [(0.5, 0.514056913328), (0.4, 0.152618314084), (0.3, 0.045310838527)])
def test_acescct_decode(code: float, light: float) -> None:
    np.testing.assert_allclose(_decode("ACEScct", code), light, rtol=0, atol=5e-13)


def test_acescct_ends_of_the_code_range() -> None:
    # S-2016-001 says code 1 is "approximately 222"; the digits are its equation in float64.
    np.testing.assert_allclose(_decode("ACEScct", 1.0), 222.860944204, rtol=0, atol=5e-10)
    np.testing.assert_allclose(_decode("ACEScct", 0.0), -0.0069168775869, rtol=0, atol=5e-14)


@pytest.mark.parametrize(
    ("light", "code"), [(-0.001, 0.0623653), (-0.01, -0.0324968), (-0.1, -0.9811182), (-1.0, -10.4673322)]
)
def test_acescct_has_no_lower_clamp(light: float, code: float) -> None:
    # S-2016-001 eq. 1 sets no lower limit; seven printed decimals.
    np.testing.assert_allclose(_encode("ACEScct", light), code, rtol=0, atol=5e-8)
    np.testing.assert_allclose(_decode("ACEScct", _encode("ACEScct", light)), light, rtol=0, atol=1e-14)


@pytest.mark.parametrize("name", ["ACEScct", "ACEScc"])
def test_academy_curves_stop_at_the_largest_half_float(name: str) -> None:
    # S-2016-001 eq. 3, S-2014-003 eq. 2: 65504 from code (log2(65504) + 9.72) / 17.52 on.
    # 1e-12 of it: 2 ** log2(65504) need not be 65504 to the last bit.
    last = (np.log2(65504.0) + 9.72) / 17.52
    np.testing.assert_allclose(last, 1.467996312, rtol=0, atol=5e-10)
    for code in (last, 1.6, 30.0):
        np.testing.assert_allclose(_decode(name, code), 65504.0, rtol=1e-12, atol=0)


def test_acescc_of_black_and_below() -> None:
    # S-2014-003 eq. 1: (-16 + 9.72) / 17.52 = -0.3584474886 for every light at or under zero.
    for light in (0.0, -0.001, -1.0):
        np.testing.assert_allclose(_encode("ACEScc", light), -0.3584474886, rtol=0, atol=5e-11)


@pytest.mark.parametrize(("light", "code"), ACESCCT_ENCODED[1:])
def test_acescc_equals_acescct_from_the_break_up(light: float, code: float) -> None:
    # S-2016-001 section 4: the curves are identical above 0.0078125.
    np.testing.assert_allclose(_encode("ACEScc", light), code, rtol=0, atol=5e-13)


# name, 0 %, 18 %, 90 % reflectance as full-range code value, decode(1.0); formula values (see above), 1e-9.
CAMERA_VALUES = [
    ("S-Log3", 0.092864125122, 0.410557184751, 0.584452842075, 38.420934337),
    ("S-Log2", 0.088251291513, 0.339532524634, 0.568950356837, 13.758274097),
    ("S-Log", 0.088251291513, 0.384970815929, 0.622181450707, 9.737591256),
    ("V-Log", 0.125, 0.423311448760, 0.588167438154, 46.085527957),
    ("LogC3", 0.092809, 0.391006832034, 0.559431891730, 55.079576699),
    ("LogC4", 0.092864125122, 0.278395836548, 0.417959358921, 469.8),
    ("Log3G10", 0.091551487715, 0.333332912026, 0.483360528397, 184.322347640),
    ("F-Log", 0.092864, 0.459318458662, 0.689503345907, 7.281324880),
    ("F-Log2", 0.092864, 0.391007241891, 0.557132363979, 58.250874020),
    ("N-Log", 0.124372627896, 0.363667770117, 0.589634332992, 14.780863441),
    ("D-Log", 0.0929, 0.398764556189, 0.572944425797, 41.999392671),
    ("L-Log", 0.09, 0.435313904044, 0.619557106011, 23.300931407),
    ("Apple Log", 0.150476452301, 0.488272458527, 0.681686795934, 12.000002103),
    ("Mi-Log", 0.147427429334, 0.453459668604, 0.660867609769, 11.520029261),
    ("REDLogFilm", 0.092864125122, 0.457319613085, 0.656333306552, 13.521694569),
]


@pytest.mark.parametrize("row", CAMERA_VALUES, ids=lambda r: r[0])
def test_camera_curve_at_0_18_and_90_percent(row: tuple[str, float, float, float, float]) -> None:
    name, black, grey, white, top = row
    for light, code in ((0.0, black), (0.18, grey), (0.9, white)):
        np.testing.assert_allclose(_encode(name, light), code, rtol=0, atol=1e-9)
    np.testing.assert_allclose(_decode(name, 1.0), top, rtol=0, atol=1e-8)


# Makers' printed 10-bit codes for 0, 18 and 90 % reflectance.
PRINTED_CODES = [
    ("S-Log3", 95, 420, 598),  # Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3, V1.00
    ("S-Log2", 90, 347, 582),  # S-Log2 Technical Paper, 2012
    ("S-Log", 90, 394, 636),  # the same paper
    ("V-Log", 128, 433, 602),  # V-Log/V-Gamut Reference Manual, 2014, figure 2.2
    ("F-Log", 95, 470, 705),  # F-Log Data Sheet 1.1
    ("F-Log2", 95, 400, 570),  # F-Log2 Data Sheet 1.0
]


@pytest.mark.parametrize("row", PRINTED_CODES, ids=lambda r: r[0])
def test_camera_curve_against_the_makers_ten_bit_codes(row: tuple[str, int, int, int]) -> None:
    name, *codes = row
    for light, code in zip((0.0, 0.18, 0.9), codes, strict=True):
        np.testing.assert_allclose(_encode(name, light) * FULL_CODE, code, rtol=0, atol=0.5)


# Log C 18 % = code 400 and Log3G10 0 -> 0.091551, 0.18 -> 0.333333, 1 -> 0.493449, 184.322 -> 1, -0.01 -> 0:
# from memory of the makers' papers, not seen when this was written.
def test_logc3_grey_is_code_400_from_memory() -> None:
    np.testing.assert_allclose(_encode("LogC3", 0.18) * FULL_CODE, 400, rtol=0, atol=0.5)


@pytest.mark.parametrize(
    ("light", "code", "half_digit"),
    [(0.0, 0.091551, 5e-7), (0.18, 0.333333, 5e-7), (1.0, 0.493449, 5e-7), (184.322, 1.0, 5e-6), (-0.01, 0.0, 5e-7)],
)
def test_log3g10_from_memory(light: float, code: float, half_digit: float) -> None:
    # 184.322 is itself rounded to three decimals, hence the wider last row but one.
    np.testing.assert_allclose(_encode("Log3G10", light), code, rtol=0, atol=half_digit)


def test_n_log_formula_printed_in_its_specification() -> None:
    # N-Log Specification 1.0.0: 650 (y + 0.0075)^(1/3) below y = 0.328, 150 ln y + 619 above; 10-bit codes.
    for light, code in ((0.0, 127.233), (0.18, 372.032), (0.9, 603.196)):
        np.testing.assert_allclose(_encode("N-Log", light) * FULL_CODE, code, rtol=0, atol=5e-4)
    for light in (0.05, 0.3):
        np.testing.assert_allclose(
            _encode("N-Log", light) * FULL_CODE, 650 * (light + 0.0075) ** (1 / 3), rtol=1e-12, atol=0
        )
    for light in (0.4, 5.0):
        np.testing.assert_allclose(_encode("N-Log", light) * FULL_CODE, 150 * np.log(light) + 619, rtol=1e-12, atol=0)


def test_d_log_parameters_printed_in_the_clf_specification() -> None:
    # CLF specification v3.0, example 7: 0.256663 log10(0.9892 x + 0.0108) + 0.584555 above 0.0078, else
    # 6.025 x + 0.0929.
    for light in (0.01, 0.18, 3.0):
        expected = 0.256663 * np.log10(0.9892 * light + 0.0108) + 0.584555
        np.testing.assert_allclose(_encode("D-Log", light), expected, rtol=0, atol=1e-12)
    for light in (0.0, 0.005):
        np.testing.assert_allclose(_encode("D-Log", light), 6.025 * light + 0.0929, rtol=0, atol=1e-12)


def test_redlogfilm_is_the_general_form_of_the_clf_specification() -> None:
    # CLF specification v3.0, appendix B: density range 0.002 x 1023, gamma 0.6, black 95, white 685:
    # code = 685 + 300 log10(x (1 - o) + o), o = 10^((95 - 685) / 300).
    offset = 10 ** ((95 - 685) / 300)
    for light in (0.0, 0.18, 0.9, 1.0, 5.0):
        code = 685 + 300 * np.log10(light * (1 - offset) + offset)
        np.testing.assert_allclose(_encode("REDLogFilm", light) * FULL_CODE, code, rtol=1e-12, atol=0)
    np.testing.assert_allclose(_encode("REDLogFilm", 1.0) * FULL_CODE, 685, rtol=0, atol=1e-9)


# Light at the join of the straight part, its code there, the largest step the printed constants leave (codes of
# 10 bit), and the code of light -0.1. Formula values, 1e-7.
JOINS = [
    ("V-Log", 0.01, 0.181, 0.001, -0.435),
    ("S-Log3", 0.01125, 171.2102946929 / 1023, 1e-6, -0.56933025),  # (x (171.2102946929 - 95) / 0.01125 + 95) / 1023
    ("N-Log", 0.328, 451.659 / 1023, 0.14, -0.2874),
    ("F-Log", 0.00089, 0.10063871, 0.11, -0.7807),
    ("F-Log2", 0.000889, 0.10068672, 0.001, -0.7871),
    ("D-Log", 0.0078, 0.139895, 0.003, -0.5096),
    ("LogC3", 0.010591, 0.14965783, 0.001, -0.4439565),
    ("Apple Log", 0.01, 0.208555316, 1e-4, 0.0),
]


@pytest.mark.parametrize("row", JOINS, ids=lambda r: r[0])
def test_camera_curve_about_its_join_and_below_black(row: tuple[str, float, float, float, float]) -> None:
    name, join, code, step, negative = row
    below, above = _encode(name, join * (1 - 1e-9)), _encode(name, join * (1 + 1e-9))
    assert abs(above - below) * FULL_CODE < step
    decimals = len(f"{code:.10g}".split(".")[1]) if name not in ("S-Log3", "N-Log") else 6
    # Either side of the join may be the printed one; its own step is added.
    np.testing.assert_allclose(_encode(name, join), code, rtol=0, atol=0.5 * 10**-decimals + step / FULL_CODE)
    places = len(str(negative).split(".")[1])
    np.testing.assert_allclose(_encode(name, -0.1), negative, rtol=0, atol=0.5 * 10**-places + 1e-9)


def test_every_curated_scene_encoding_is_checked_here() -> None:
    checked = {row[0] for row in CAMERA_VALUES} | {"ACEScct", "ACEScc", "ACEScg", "ACES2065-1"}
    assert {name for name, e in CURATED.items() if e.kind == "scene"} <= checked


@pytest.mark.parametrize("name", ["ACEScg", "ACES2065-1"])
def test_linear_encodings_are_the_light_itself(name: str) -> None:
    # S-2014-004 and S-2021-001: linear; nothing to tabulate.
    x = np.array([-1.0, 0.0, 0.18, 222.86])
    assert np.array_equal(encoding(name).encode(x), x)
    assert np.array_equal(encoding(name).decode(x), x)


def test_a_curve_without_a_toe_gives_no_nan_and_does_not_depend_on_its_neighbours() -> None:
    # Cineon in colour-science is NaN below light -0.0109. The held code must not hang on the other pixels.
    alone = encoding("Cineon").encode(np.array([-0.2]))
    among = encoding("Cineon").encode(np.array([-0.2, 0.18, 0.5]))
    assert np.isfinite(among).all()
    assert alone[0] == among[0] <= among[1]
