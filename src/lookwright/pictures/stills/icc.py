"""Small ICC display profiles, so that a viewer shows previews as they were meant.

Written from ICC.1:2022 (profile version 4.4): three colorants and a parametric
curve. Version 4 because its curve is a formula: a table of 16-bit numbers would
round the darkest steps of a 2.4 or 2.6 power to nothing.
"""

from __future__ import annotations

import hashlib
import struct

import numpy as np
from numpy.typing import NDArray

Float64 = NDArray[np.float64]

# Chromaticities of red, green, blue. BT.709-6 item 1.3 (also IEC 61966-2-1); SMPTE RP 431-2 red, green,
# blue, with the D65 white of SMPTE EG 432-1; BT.2020-2 table 3.
_PRIMARIES = {
    "BT.709": ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)),
    "P3-D65": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
    "BT.2020": ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
}
_D65 = (0.3127, 0.3290)  # BT.709-6 item 1.4

_D50 = (0.9642, 1.0, 0.8249)  # ICC.1:2022 7.2.16, the profile connection space illuminant
_BRADFORD = np.array(  # ICC.1:2022 Annex E.3, linear Bradford cone responses
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)

# parametricCurveType (ICC.1:2022 10.18): function type and its parameters.
_SRGB_CURVE = (3, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045))  # IEC 61966-2-1
_CURVES = {
    "sRGB": _SRGB_CURVE,
    "2.2": (0, (2.2,)),
    "2.4": (0, (2.4,)),  # BT.1886 with a black level of zero
    "2.6": (0, (2.6,)),  # SMPTE RP 431-2
}

# Folded encoding name -> (curve, primaries unless others are given).
_ENCODINGS = {
    "srgb": ("sRGB", "BT.709"),
    "bt1886": ("2.4", "BT.709"),
    "bt1886bt709": ("2.4", "BT.709"),
    "displayp3": ("sRGB", "P3-D65"),
    "p3d6526": ("2.6", "P3-D65"),
    "p3d65": ("2.6", "P3-D65"),
    "gamma22": ("2.2", "BT.709"),
    "gamma24": ("2.4", "BT.709"),
    "gamma26": ("2.6", "P3-D65"),
}
_PRIMARY_NAMES = {
    "bt709": "BT.709",
    "rec709": "BT.709",
    "itubt709": "BT.709",
    "srgb": "BT.709",
    "p3d65": "P3-D65",
    "displayp3": "P3-D65",
    "bt2020": "BT.2020",
    "rec2020": "BT.2020",
    "itubt2020": "BT.2020",
}


def _fold(name: str) -> str:
    return "".join(c for c in name.casefold() if c.isalnum())


def profile_for(encoding: str, primaries: str | None = None) -> bytes | None:
    """An ICC profile for a display encoding.

    Parameters
    ----------
    encoding
        ``sRGB``, ``BT.1886`` (or ``BT.1886/BT.709``), ``Display P3``, ``P3-D65 2.6``, ``gamma 2.2``,
        ``gamma 2.4``, ``gamma 2.6``; case, spaces and punctuation do not count. BT.1886 is taken with a
        black level of zero, that is a pure 2.4 power.
    primaries
        ``BT.709``, ``P3-D65`` or ``BT.2020``, when they differ from those that belong to the encoding.

    Returns
    -------
    bytes or None
        The same bytes for the same names, always; None for log, PQ, HLG and whatever else a matrix and
        a curve of 0..1 cannot say.
    """
    known = _ENCODINGS.get(_fold(encoding))
    if known is None:
        return None
    curve, own = known
    chosen = own if primaries is None else _PRIMARY_NAMES.get(_fold(primaries))
    if chosen is None:
        return None
    titles = {
        ("sRGB", "BT.709"): "sRGB",
        ("2.4", "BT.709"): "BT.709 with BT.1886 (gamma 2.4)",
        ("sRGB", "P3-D65"): "Display P3",
        ("2.6", "P3-D65"): "P3-D65 with gamma 2.6",
    }
    shape = "the sRGB curve" if curve == "sRGB" else f"gamma {curve}"
    title = titles.get((curve, chosen), f"{chosen} with {shape}")
    return _profile(title, _PRIMARIES[chosen], *_CURVES[curve])


def rgb_to_pcs(primaries: str) -> Float64:
    """(3, 3) from linear RGB to XYZ relative to D50: columns are the colorants a profile stores.

    Colorants scaled to add up to the white (SMPTE RP 177), then the linear Bradford adaptation from D65
    to D50 that ICC.1:2022 Annex E prescribes.
    """
    return _adaptation() @ _rgb_to_xyz(_PRIMARIES[primaries])


def _xyz(xy: tuple[float, float]) -> Float64:
    x, y = xy
    return np.array([x / y, 1.0, (1 - x - y) / y])


def _rgb_to_xyz(primaries: tuple[tuple[float, float], ...]) -> Float64:
    columns = np.stack([_xyz(p) for p in primaries], axis=1)
    return columns * np.linalg.solve(columns, _xyz(_D65))


def _adaptation() -> Float64:
    gains = (_BRADFORD @ np.array(_D50)) / (_BRADFORD @ _xyz(_D65))
    return np.linalg.solve(_BRADFORD, gains[:, None] * _BRADFORD)


def _fixed(values: NDArray[np.float64] | tuple[float, ...]) -> bytes:
    """s15Fixed16Number (ICC.1:2022 4.6), big-endian."""
    return b"".join(struct.pack(">i", round(float(v) * 65536)) for v in np.ravel(values))


def _text(text: str) -> bytes:
    """multiLocalizedUnicodeType (ICC.1:2022 10.15) with one record, English."""
    coded = text.encode("utf-16-be")
    return b"mluc" + struct.pack(">4xII2s2sII", 1, 12, b"en", b"US", len(coded), 28) + coded


def _profile(title: str, primaries: tuple[tuple[float, float], ...], kind: int, numbers: tuple[float, ...]) -> bytes:
    adaptation = _adaptation()
    colorants = adaptation @ _rgb_to_xyz(primaries)
    curve = b"para" + struct.pack(">4xHxx", kind) + _fixed(numbers)
    tags: list[tuple[bytes, bytes]] = [
        (b"desc", _text(title)),
        (b"cprt", _text("No copyright, use freely")),
        # Version 4 asks for the adapted white here, the D50 of the connection space (9.2.36).
        (b"wtpt", b"XYZ \0\0\0\0" + _fixed(_D50)),
        (b"chad", b"sf32\0\0\0\0" + _fixed(adaptation)),
    ]
    for i, channel in enumerate((b"r", b"g", b"b")):
        tags.append((channel + b"XYZ", b"XYZ \0\0\0\0" + _fixed(colorants[:, i])))
        tags.append((channel + b"TRC", curve))
    at = 128 + 4 + 12 * len(tags)
    table, body, placed = struct.pack(">I", len(tags)), b"", {}
    for name, data in tags:
        if data not in placed:  # the three curves share one place, as the standard allows (7.3.1)
            placed[data] = at + len(body)
            body += data + b"\0" * (-len(data) % 4)
        table += name + struct.pack(">II", placed[data], len(data))
    size = at + len(body)
    # Header (7.2): no preferred module, display device, RGB to XYZ, a fixed date so that bytes repeat.
    head = struct.pack(">I4xI4s4s4s", size, 0x04400000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H4s", 2024, 1, 1, 0, 0, 0, b"acsp")
    head = head.ljust(68, b"\0") + _fixed(_D50)
    head = head.ljust(128, b"\0")
    # The identifier (7.2.18) is the MD5 of the whole profile with flags, intent and itself zero: they are.
    digest = hashlib.md5(head + table + body, usedforsecurity=False).digest()
    return head[:84] + digest + head[100:] + table + body
