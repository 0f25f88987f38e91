"""Small CLF texts, legal and illegal, named after the files of OpenColorIO's own test suite that they stand for.

Those files are not in its wheel. Each case is written anew from the rule it tests (CLF 3.0 specification, S-2014-006;
ST 2136-1); the names are listed in the suite's folder ``tests/data/files/clf``. Where a number is given it follows from
the specification's formulas, not from a library.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

PROBE = np.array([[0.18, 0.5, 0.75], [0.0, 1.0, 0.33], [-0.1, 0.02, 1.2]])
XMLNS = 'xmlns="urn:AMPAS:CLF:v3.0"'
D = 'inBitDepth="32f" outBitDepth="32f"'


@dataclass(frozen=True)
class Case:
    name: str
    text: str
    expected: Callable[[np.ndarray], np.ndarray] | None = None
    """What the specification says of PROBE; None for a file to be refused."""
    verdicts: str = ""
    """Read (r) or refused (-): by us, by OpenColorIO 2.6, by colour-clf-io 0.2.0. Empty where all do alike."""


def process_list(*nodes: str, attributes: str = f'{XMLNS} id="urn:uuid:1" compCLFversion="3.0"') -> str:
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<ProcessList {attributes}>\n{"".join(nodes)}\n</ProcessList>\n'


def matrix(array: str, dim: str = "3 3", depths: str = D) -> str:
    return f'<Matrix {depths}><Array dim="{dim}">{array}</Array></Matrix>'


IDENTITY = matrix("1 0 0 0 1 0 0 0 1")
RANGE_BOTH = (
    "<minInValue>0.1</minInValue><maxInValue>0.9</maxInValue><minOutValue>0</minOutValue><maxOutValue>1</maxOutValue>"
)


def log(style: str, params: str = "") -> str:
    return f'<Log {D} style="{style}">{params}</Log>'


def exponent(style: str, params: str) -> str:
    return f'<Exponent {D} style="{style}"><ExponentParams {params}/></Exponent>'


SOP = "<SOPNode><Slope>1.2 1 0.8</Slope><Offset>0.02 0 -0.01</Offset><Power>1 1.1 1.3</Power></SOPNode>"
SAT = "<SatNode><Saturation>0.8</Saturation></SatNode>"
LUMA = np.array([0.2126, 0.7152, 0.0722])


def cdl(style: str | None = "Fwd", body: str = SOP + SAT) -> str:
    named = f' style="{style}"' if style else ""
    return f"<ASC_CDL {D}{named}>{body}</ASC_CDL>"


def cdl_formula(x: np.ndarray, clamp: bool, sop: bool = True, sat: float = 0.8) -> np.ndarray:
    """ASC CDL 1.2; without clamps a negative base passes the power by."""
    if sop:
        x = x * [1.2, 1, 0.8] + [0.02, 0, -0.01]
        if clamp:
            x = np.clip(x, 0, 1)
        x = np.where(x < 0, x, np.maximum(x, 0) ** np.array([1, 1.1, 1.3]))
    elif clamp:
        x = np.clip(x, 0, 1)
    luma = (x @ LUMA)[..., None]
    x = luma + sat * (x - luma)
    return np.clip(x, 0, 1) if clamp else x


def cube(n: int, scale: float, value: Callable[[float], float] = lambda v: v) -> str:
    """Rows of a 3D LUT, blue fastest: r' = value(r), g' = b, b' = g: an axis mix-up shows."""
    steps = [value(i / (n - 1)) * scale for i in range(n)]
    return "\n".join(f"{r:.9g} {b:.9g} {g:.9g}" for r in steps for g in steps for b in steps)


def lut3d(array: str, n: object = "2 2 2 3", depths: str = D, extra: str = "") -> str:
    return f'<LUT3D {depths}{extra}><Array dim="{n}">{array}</Array></LUT3D>'


def swapped(x: np.ndarray) -> np.ndarray:
    return np.clip(x, 0, 1)[..., [0, 2, 1]]


def lut1d(array: str, dim: str, depths: str = D, extra: str = "") -> str:
    return f'<LUT1D {depths}{extra}><Array dim="{dim}">{array}</Array></LUT1D>'


def curve(x: np.ndarray) -> np.ndarray:
    return np.interp(x, [0, 0.5, 1], [0, 0.25, 1])


def camera(x: np.ndarray) -> np.ndarray:
    """ACEScct (S-2016-001): CLF example 14."""
    line = 10.5402377416545 * x + 0.0729055341958355
    return np.where(x <= 0.0078125, line, (np.log2(np.maximum(x, 1e-9)) + 9.72) / 17.52)


def moncurve(x: np.ndarray, gamma: float = 2.4, offset: float = 0.055) -> np.ndarray:
    """Specification, Exponent node: the slope and the break follow from gamma and offset."""
    x_break = offset / (gamma - 1)
    slope = ((gamma - 1) / offset) * ((offset * gamma) / ((gamma - 1) * (1 + offset))) ** gamma
    return np.where(x >= x_break, ((np.maximum(x, 0) + offset) / (1 + offset)) ** gamma, x * slope)


HALVES = "\n".join(
    "nan" if code & 0x7C00 == 0x7C00 else f"{0.5 * half + 0.25:.9g}"
    for code, half in enumerate(np.arange(65536, dtype=np.uint16).view(np.float16).tolist())
)
"""A line at every half there is; NaN where the half is NaN or infinite."""

CAMERA = (
    '<LogParams base="2" linSideSlope="1" linSideOffset="0" logSideSlope="0.0570776255707763" '
    'logSideOffset="0.554794520547945" linSideBreak="0.0078125"/>'
)
LIN = '<LogParams base="10" linSideSlope="0.9" linSideOffset="0.2" logSideSlope="0.4" logSideOffset="0.6"/>'
TINY = 1.17549435e-38  # smallest normal 32-bit float: what a logarithm of nothing is taken of


def _log(x: np.ndarray, base: float) -> np.ndarray:
    return np.log(np.maximum(x, TINY)) / np.log(base)


LEGAL = (
    Case(
        "matrix_example",
        process_list(matrix("0.5 0.2 0.3  0.1 0.8 0.1  0 0.1 0.9")),
        lambda x: x @ np.array([[0.5, 0.2, 0.3], [0.1, 0.8, 0.1], [0, 0.1, 0.9]]).T,
    ),
    Case(
        "matrix_3x4_example",
        process_list(matrix("1 0 0 0.1  0 2 0 0  0 0 1 -0.2", "3 4")),
        lambda x: x * [1, 2, 1] + [0.1, 0, -0.2],
    ),
    Case("matrix_no_newlines", process_list(IDENTITY).replace("\n", " ").replace("?> <", "?><"), lambda x: x),
    Case("matrix_windows", process_list(matrix("1 0 0\n0 1 0\n0 0 2")).replace("\n", "\r\n"), lambda x: x * [1, 1, 2]),
    Case(
        "matrix_example_utf8", process_list("<Description>für die Werkstatt, 25 °</Description>", IDENTITY), lambda x: x
    ),
    Case(
        "tabulation_support",
        process_list("\t<Matrix\t" + D + '>\t<Array\tdim="3 3">\t1\t0\t0\t0\t1\t0\t0\t0\t1\t</Array></Matrix>'),
        lambda x: x,
    ),
    Case(
        "difficult_syntax",
        process_list(
            "<!-- a > b -->",
            f"<Matrix {D}".replace('"', "'") + "><Array dim='3 3'>+1 0 .0\n0. 1e0 0 0 0 10e-1</Array></Matrix>",
        ),
        lambda x: x,
        verdicts="rr-",
    ),
    Case(
        "info_example",
        process_list(
            "<Info><AppRelease>a</AppRelease><Copyright>b</Copyright><Other><Deep>c</Deep></Other></Info>", IDENTITY
        ),
        lambda x: x,
    ),
    Case(
        "xyz_to_rgb",
        process_list(
            matrix("3.2409 -1.5373 -0.4986 -0.9692 1.8759 0.0415 0.0556 -0.2039 1.0569"),
            f"<Range {D}><minInValue>0</minInValue><minOutValue>0</minOutValue></Range>",
            exponent("basicFwd", 'exponent="0.5"'),
        ),
        lambda x: np.sqrt(
            np.maximum(
                x @ np.array([[3.2409, -1.5373, -0.4986], [-0.9692, 1.8759, 0.0415], [0.0556, -0.2039, 1.0569]]).T, 0
            )
        ),
    ),
    Case(
        "lut1d_32f_example",
        process_list(lut1d("0 0 0\n0.25 0.5 0.25\n1 1 1", "3 3")),
        lambda x: np.stack([curve(x[..., 0]), np.clip(x[..., 1], 0, 1), curve(x[..., 2])], axis=-1),
    ),
    Case("lut1d_comp", process_list(lut1d("0\n0.25\n1", "3 1")), curve),
    Case(
        "lut1d_example",
        process_list(lut1d("0\n256\n1023", "3 1", 'inBitDepth="8i" outBitDepth="10i"', ' interpolation="linear"')),
        lambda x: np.interp(x, [0, 0.5, 1], np.array([0, 256, 1023]) / 1023),
    ),
    Case(
        "lut3d_17x17x17_10i_12i",
        process_list(
            lut3d(cube(17, 4095), "17 17 17 3", 'inBitDepth="10i" outBitDepth="12i"', ' interpolation="trilinear"')
        ),
        swapped,
    ),
    Case(
        "lut3d_identity_12i_16f",
        process_list(lut3d(cube(2, 1), depths='inBitDepth="12i" outBitDepth="16f"')),
        swapped,
        verdicts="rr-",
    ),
    Case(
        "lut3d_bizarre",
        process_list(lut3d(cube(3, 1).replace("\n", "  \n\n ").replace(" ", "\t", 5), "3 3 3 3")),
        swapped,
        verdicts="rr-",
    ),
    Case(
        "lut3d_preview_tier_test",
        process_list(lut3d(cube(3, 1, lambda v: v * v), "3 3 3 3", D, ' interpolation="tetrahedral"')),
        lambda x: np.interp(swapped(x), [0, 0.5, 1], [0, 0.25, 1]),
    ),
    Case(
        "indexMap_test2_clfv2",
        process_list(
            f'<LUT3D {D}><IndexMap dim="2">-0.5@0 1.5@1</IndexMap><Array dim="2 2 2 3">{cube(2, 1)}</Array></LUT3D>',
            attributes='id="a" compCLFversion="2.0"',
        ),
        lambda x: swapped((x + 0.5) / 2),
        verdicts="rr-",
    ),
    Case(
        "lut1d_long",
        process_list(lut1d("\n".join(f"{i / 65536 - 0.5:.9g}" for i in range(131073)), "131073 1")),
        lambda x: np.clip(x, 0, 1) * 2 - 0.5,
    ),
    Case(
        "lut1d_half_domain",
        process_list(lut1d(HALVES, "65536 1", D, ' halfDomain="true"')),
        lambda x: 0.5 * x + 0.25,
    ),
    Case(
        "smpte_only without version",
        process_list(IDENTITY, attributes='id="a" xmlns="http://www.smpte-ra.org/ns/2136-1/2024"'),
        lambda x: x,
        verdicts="rr-",
    ),
    Case(
        "range_test1_clamp", process_list(f"<Range {D}>{RANGE_BOTH}</Range>"), lambda x: np.clip((x - 0.1) / 0.8, 0, 1)
    ),
    Case(
        "range_test1_noclamp",
        process_list(f'<Range {D} style="noClamp">{RANGE_BOTH}</Range>'),
        lambda x: (x - 0.1) / 0.8,
    ),
    Case(
        "range_test2",
        process_list(f"<Range {D}><maxInValue>0.6</maxInValue><maxOutValue>0.6</maxOutValue></Range>"),
        lambda x: np.minimum(x, 0.6),
    ),
    Case("log_all_styles log2", process_list(log("log2")), lambda x: _log(x, 2)),
    Case("log_all_styles antiLog10", process_list(log("antiLog10")), lambda x: 10.0**x),
    Case("log_all_styles linToLog", process_list(log("linToLog", LIN)), lambda x: 0.4 * _log(0.9 * x + 0.2, 10) + 0.6),
    Case(
        "log_all_styles logToLin", process_list(log("logToLin", LIN)), lambda x: (10.0 ** ((x - 0.6) / 0.4) - 0.2) / 0.9
    ),
    Case("log_all_styles cameraLinToLog", process_list(log("cameraLinToLog", CAMERA)), camera),
    Case(
        "exponent_all_styles basicFwd",
        process_list(exponent("basicFwd", 'exponent="2.4"')),
        lambda x: np.maximum(x, 0) ** 2.4,
    ),
    Case(
        "exponent_all_styles basicRev",
        process_list(exponent("basicRev", 'exponent="2.4"')),
        lambda x: np.maximum(x, 0) ** (1 / 2.4),
    ),
    Case(
        "exponent_all_styles basicMirrorFwd",
        process_list(exponent("basicMirrorFwd", 'exponent="2.4"')),
        lambda x: np.sign(x) * np.abs(x) ** 2.4,
    ),
    Case(
        "exponent_all_styles basicPassThruFwd",
        process_list(exponent("basicPassThruFwd", 'exponent="2.4"')),
        lambda x: np.where(x < 0, x, np.abs(x) ** 2.4),
    ),
    Case(
        "exponent_all_styles monCurveFwd",
        process_list(exponent("monCurveFwd", 'exponent="2.4" offset="0.055"')),
        moncurve,
    ),
    Case("cdl_all_styles Fwd", process_list(cdl("Fwd")), lambda x: cdl_formula(x, True)),
    Case("cdl_all_styles FwdNoClamp", process_list(cdl("FwdNoClamp")), lambda x: cdl_formula(x, False)),
    Case("cdl_missing_style", process_list(cdl(None)), lambda x: cdl_formula(x, True), verdicts="rr-"),
    Case("cdl_missing_sat", process_list(cdl("FwdNoClamp", SOP)), lambda x: cdl_formula(x, False, sat=1.0)),
    Case("cdl_missing_sop", process_list(cdl("FwdNoClamp", SAT)), lambda x: cdl_formula(x, False, sop=False)),
    Case(
        "multiple_ops",
        process_list(cdl("FwdNoClamp"), lut1d("0\n0.25\n1", "3 1"), matrix("1 0 0 0 1 0 0 0 2")),
        lambda x: curve(cdl_formula(x, False)) * [1, 1, 2],
    ),
    Case(
        "aces_to_video_with_look",
        process_list(log("cameraLinToLog", CAMERA), lut3d(cube(3, 1), "3 3 3 3")),
        lambda x: swapped(camera(x)),
        verdicts="rr-",
    ),
    Case(
        "smpte_only namespaces",
        process_list(
            "<Id>urn:uuid:3bae2da8-59a5-4a5c-b7ae-3d0b5d1a8f5c</Id>",
            IDENTITY,
            attributes='xmlns="http://www.smpte-ra.org/ns/2136-1/2024" compCLFversion="ST2136-1:2024"',
        ),
        lambda x: x,
        verdicts="rr-",
    ),
)

ILLEGAL = (
    Case("cdl_bad_power", process_list(cdl(body=SOP.replace("1 1.1 1.3", "1 0 1.3"))), verdicts="--r"),
    Case("cdl_bad_slope", process_list(cdl(body=SOP.replace("1.2 1 0.8", "1.2 -1 0.8"))), verdicts="--r"),
    Case("cdl_bad_sat", process_list(cdl(body=SAT.replace("0.8", "-0.1"))), verdicts="--r"),
    Case("cdl_bad_style", process_list(cdl("Sideways"))),
    Case("cdl_missing_slope", process_list(cdl(body=SOP.replace("<Slope>1.2 1 0.8</Slope>", "")))),
    Case("lut3d_unequal_size", process_list(lut3d(cube(2, 1), "2 2 3 3"))),
    Case("lut3d_bad_dim", process_list(lut3d(cube(2, 1), "2 2 3"))),
    Case("lut3d_bad_number_of_values", process_list(lut3d(cube(2, 1)[:-6]))),
    Case("lut3d too large", process_list(lut3d(cube(2, 1), "256 256 256 3"))),
    Case("lut3d_bad_interp", process_list(lut3d(cube(2, 1), extra=' interpolation="cubic"'))),
    Case("lut1d_bad_number_of_values", process_list(lut1d("0\n0.25", "3 1")), verdicts="--r"),
    Case("array_illegal_values", process_list(matrix("1 0 0 0 one 0 0 0 1"))),
    Case("array with NaN", process_list(matrix("1 0 0 0 nan 0 0 0 1")), verdicts="-rr"),
    Case("array_missing", process_list(f"<Matrix {D}></Matrix>"), verdicts="-r-"),
    Case("matrix_wrong_dim", process_list(matrix("1 0 0 0 1 0 0 0 1", "3 3 5")), verdicts="--r"),
    Case(
        "range_bad_noclamp",
        process_list(f'<Range {D} style="noClamp"><minInValue>0</minInValue><minOutValue>0</minOutValue></Range>'),
        verdicts="--r",
    ),
    Case(
        "range_mismatch",
        process_list(f"<Range {D}><minInValue>0</minInValue><maxOutValue>1</maxOutValue></Range>"),
        verdicts="--r",
    ),
    Case("range_empty", process_list(f"<Range {D}></Range>"), verdicts="--r"),
    Case("log_bad_style", process_list(log("ln"))),
    Case(
        "log_missing_breakpnt",
        process_list(log("cameraLinToLog", CAMERA.replace(' linSideBreak="0.0078125"', ""))),
        verdicts="--r",
    ),
    Case("exponent_bad_value", process_list(exponent("basicFwd", 'exponent="-2"')), verdicts="--r"),
    Case("exponent_missing_exponent", process_list(exponent("basicFwd", ""))),
    Case("exponent_bad_style", process_list(exponent("sideways", 'exponent="2"'))),
    Case(
        "transform_bitdepth_mismatch",
        process_list(matrix("1 0 0 0 1 0 0 0 1", depths='inBitDepth="32f" outBitDepth="10i"'), IDENTITY),
    ),
    Case("transform_element_end_missing", process_list(IDENTITY).replace("</Matrix>", "")),
    Case("transform_missing_id", process_list(IDENTITY, attributes=f'{XMLNS} compCLFversion="3.0"')),
    Case("transform_missing_version", process_list(IDENTITY, attributes=f'{XMLNS} id="a"')),
    Case(
        "process_list_invalid_version",
        process_list(IDENTITY, attributes=f'{XMLNS} id="a" compCLFversion="9"'),
        verdicts="--r",
    ),
    Case("process_list_wrong_root", process_list(IDENTITY).replace("ProcessList", "ProcessTree"), verdicts="--r"),
    Case("transform_missing_inbitdepth", process_list(IDENTITY.replace('inBitDepth="32f" ', ""))),
    Case("transform_invalid_outbitdepth", process_list(IDENTITY.replace('outBitDepth="32f"', 'outBitDepth="33f"'))),
    Case("transform_empty", process_list(), verdicts="--r"),
    Case(
        "indexMap_test2",
        process_list(lut3d(cube(2, 1)).replace("</LUT3D>", '<IndexMap dim="2">0@0 2@1</IndexMap></LUT3D>')),
        verdicts="-r-",
    ),
    Case(
        "lut1d_half_domain with NaN at 1",
        process_list(lut1d(HALVES.replace("\n0.75\n", "\nnan\n"), "65536 1", D, ' halfDomain="true"')),
        verdicts="-rr",
    ),
    Case("unknown_elements", process_list("<Sharpen amount='3'/>", IDENTITY), verdicts="-r-"),
    Case(
        "other namespace",
        process_list(IDENTITY, attributes='xmlns="urn:example" id="a" compCLFversion="3.0"'),
        verdicts="-r-",
    ),
)
