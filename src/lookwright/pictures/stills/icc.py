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

from lookwright.colour.spaces.encodings import CURATED, encoding
from lookwright.colour.spaces.primaries import CATS, D65, Primaries, xy_to_xyz
from lookwright.colour.spaces.primaries import primaries as primaries_named
from lookwright.errors import NameLookupError

Float64 = NDArray[np.float64]

_D50 = (0.9642, 1.0, 0.8249)  # ICC.1:2022 7.2.16, the profile connection space illuminant


def profile_for(name: str, primaries: str | None = None) -> bytes | None:
    """An ICC profile for a display encoding.

    Parameters
    ----------
    name
        Name or alias of an encoding; case, spaces and punctuation do not count. Its curve is the one that the
        encoding states (``colour/spaces/display.py``): BT.1886 with a black level of zero, that is a pure 2.4 power.
    primaries
        Those of a display encoding, when they differ from those that belong to this one.

    Returns
    -------
    bytes or None
        The same bytes for the same names, always; None for log, PQ, HLG and whatever else a matrix and
        a curve of 0..1 cannot say.
    """
    try:
        found = encoding(name)
        chosen = primaries_named(found.primaries if primaries is None else primaries)
    except NameLookupError:
        return None
    curve = None if found.display is None else found.display.icc
    displays = [(e.primaries, e.display) for e in CURATED.values() if e.display is not None]
    if curve is None or chosen.name not in {gamut for gamut, _ in displays}:
        return None
    # The same curve with these primaries may be an encoding with a title of its own.
    titles = [facts.icc_title for gamut, facts in displays if facts.icc == curve and gamut == chosen.name]
    title = next(iter(titles), "") or f"{chosen.name} with {curve.words}"
    return _profile(title, chosen, curve.kind, curve.numbers)


def rgb_to_pcs(primaries: str) -> Float64:
    """(3, 3) from linear RGB to XYZ relative to D50: columns are the colorants a profile stores.

    Colorants scaled to add up to the white (SMPTE RP 177), then the linear Bradford adaptation from D65
    to D50 that ICC.1:2022 Annex E prescribes.
    """
    return _adaptation() @ primaries_named(primaries).to_xyz


def _adaptation() -> Float64:
    bradford = CATS["Bradford"]  # ICC.1:2022 Annex E.3 prints these digits
    gains = (bradford @ np.array(_D50)) / (bradford @ xy_to_xyz(D65))
    return np.linalg.solve(bradford, gains[:, None] * bradford)


def _fixed(values: NDArray[np.float64] | tuple[float, ...]) -> bytes:
    """s15Fixed16Number (ICC.1:2022 4.6), big-endian."""
    return b"".join(struct.pack(">i", round(float(v) * 65536)) for v in np.ravel(values))


def _text(text: str) -> bytes:
    """multiLocalizedUnicodeType (ICC.1:2022 10.15) with one record, English."""
    coded = text.encode("utf-16-be")
    return b"mluc" + struct.pack(">4xII2s2sII", 1, 12, b"en", b"US", len(coded), 28) + coded


def _profile(title: str, primaries: Primaries, kind: int, numbers: tuple[float, ...]) -> bytes:
    adaptation = _adaptation()
    colorants = adaptation @ primaries.to_xyz
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
