"""Sets of primaries with their white, and the matrices between them.

The xy values of the working and display sets are those of the standards named
below, those of camera gamuts of their makers' papers; any other set comes from
colour-science when it is asked for. Matrices
are always derived from the xy values (SMPTE RP 177-1993, section 3), since some
makers print their matrices with four to six digits only (tests/published).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from lookwright.arrays import Array

from .library import colour_library
from .names import find, fold

D65 = (0.3127, 0.3290)
"""CIE standard illuminant D65 as BT.709-6, BT.2020-2 and IEC 61966-2-1 print it."""
ACES_WHITE = (0.32168, 0.33767)
"""The ACES white point, S-2008-001 / TB-2018-001 (near, not equal to, CIE daylight 6000 K)."""

# name: (xy of R, G, B; white). Sources in the order of the rows.
_STANDARD: dict[str, tuple[tuple[tuple[float, float], ...], tuple[float, float]]] = {
    "ACEScg": (((0.713, 0.293), (0.165, 0.830), (0.128, 0.044)), ACES_WHITE),  # S-2014-004, AP1
    "ACES2065-1": (((0.7347, 0.2653), (0.0, 1.0), (0.0001, -0.0770)), ACES_WHITE),  # S-2021-001, AP0
    "BT.709": (((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)), D65),  # BT.709-6 item 1.3
    "BT.2020": (((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)), D65),  # BT.2020-2 table 3
    "P3-D65": (((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)), D65),  # SMPTE EG 432-1
}

# Other published names of the same sets.
_ALIASES = {
    "AP1": "ACEScg",
    "AP0": "ACES2065-1",
    "sRGB": "BT.709",
    "ITU-R BT.709": "BT.709",
    "Rec.709": "BT.709",
    "ITU-R BT.2020": "BT.2020",
    "Rec.2020": "BT.2020",
    "BT.2100": "BT.2020",
    "Display P3": "P3-D65",
}

# The published name used here, and the key under which colour-science holds the same gamut.
CAMERA_GAMUTS = {
    "S-Gamut3": "S-Gamut3",
    "S-Gamut3.Cine": "S-Gamut3.Cine",
    "S-Gamut": "S-Gamut",
    "V-Gamut": "V-Gamut",
    "Wide Gamut 3": "ARRI Wide Gamut 3",
    "Wide Gamut 4": "ARRI Wide Gamut 4",
    "WideGamutRGB": "REDWideGamutRGB",
    "F-Gamut": "F-Gamut",
    "F-Gamut C": "F-Gamut C",
    "N-Gamut": "N-Gamut",
    "D-Gamut": "DJI D-Gamut",
}

# xy of R, G, B as the makers print them, all with a white of D65; documents as beside the curves in encodings.py.
_CAMERA_XY: dict[str, tuple[tuple[float, float], ...]] = {
    "S-Gamut3": ((0.730, 0.280), (0.140, 0.855), (0.100, -0.050)),
    "S-Gamut3.Cine": ((0.766, 0.275), (0.225, 0.800), (0.089, -0.087)),
    "S-Gamut": ((0.730, 0.280), (0.140, 0.855), (0.100, -0.050)),
    "V-Gamut": ((0.730, 0.280), (0.165, 0.840), (0.100, -0.030)),
    "Wide Gamut 3": ((0.684, 0.313), (0.221, 0.848), (0.0861, -0.102)),
    "Wide Gamut 4": ((0.7347, 0.2653), (0.1424, 0.8576), (0.0991, -0.0308)),
    "WideGamutRGB": ((0.780308, 0.304253), (0.121595, 1.493994), (0.095612, -0.084589)),
    "F-Gamut": ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
    "F-Gamut C": ((0.7347, 0.2653), (0.0263, 0.9737), (0.1173, -0.0224)),
    "N-Gamut": ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
    "D-Gamut": ((0.710, 0.310), (0.210, 0.880), (0.090, -0.080)),
}

# Linear adaptation transforms: CIE 159:2004 (CAT02), Li et al. 2017 (CAT16), and Bradford
# (Lam 1985) as the field prints them; the digits are those of check tables in tests/published.
CATS: dict[str, Array] = {
    "CAT02": np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]]),
    "CAT16": np.array(
        [
            [0.401288, 0.650173, -0.051461],
            [-0.250268, 1.204414, 0.045854],
            [-0.002079, 0.048952, 0.953127],
        ]
    ),
    "Bradford": np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]),
}


@dataclass(frozen=True)
class Primaries:
    """Red, green and blue primaries and white, as CIE 1931 xy chromaticities."""

    name: str
    xy: tuple[tuple[float, float], ...]
    white: tuple[float, float]

    @cached_property
    def to_xyz(self) -> Array:
        """(3, 3) matrix from linear RGB (white = 1, 1, 1) to XYZ with Y = 1 for white; RP 177."""
        columns = np.array([xy_to_xyz(p) for p in self.xy]).T
        scale = np.linalg.solve(columns, xy_to_xyz(self.white))
        return columns * scale

    @cached_property
    def luminance(self) -> Array:
        """(3,) weights of R, G, B in relative luminance Y."""
        return self.to_xyz[1].copy()


def xy_to_xyz(xy: tuple[float, float]) -> Array:
    """XYZ with Y = 1 of a chromaticity; y must not be 0."""
    x, y = xy
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def adaptation(white_from: tuple[float, float], white_to: tuple[float, float], cat: str = "CAT02") -> Array:
    """(3, 3) XYZ to XYZ: von Kries scaling in the cone-like space of ``cat``; CIE 160:2004."""
    if white_from == white_to:
        return np.eye(3)
    m = CATS[cat]
    gain = (m @ xy_to_xyz(white_to)) / (m @ xy_to_xyz(white_from))
    return np.linalg.inv(m) @ (gain[:, None] * m)


def known_primaries() -> list[str]:
    """The names offered to a user, standard sets first."""
    return [*_STANDARD, *CAMERA_GAMUTS]


@lru_cache(maxsize=64)
def primaries(name: str) -> Primaries:
    """Look up primaries by published name, alias, or any key of ``colour.RGB_COLOURSPACES``.

    Case, spaces and punctuation do not matter. Raises :class:`NameLookupError` with near matches.
    """
    wanted = fold(name)
    for alias, real in _ALIASES.items():
        if fold(alias) == wanted:
            return primaries(real)
    for key, (xy, white) in _STANDARD.items():
        if fold(key) == wanted:
            return Primaries(key, xy, white)
    for key, registered in CAMERA_GAMUTS.items():
        if wanted in (fold(key), fold(registered)):
            return Primaries(key, _CAMERA_XY[key], D65)
    spaces = colour_library().RGB_COLOURSPACES
    known = [*_STANDARD, *_ALIASES, *CAMERA_GAMUTS, *spaces]
    key = find(name, known, "primaries")
    return _from_library(key, key)


def _from_library(name: str, registered: str) -> Primaries:
    space = colour_library().RGB_COLOURSPACES[registered]
    xy = tuple((float(x), float(y)) for x, y in np.reshape(space.primaries, (3, 2)))
    white = (float(space.whitepoint[0]), float(space.whitepoint[1]))
    return Primaries(name, xy, white)


@lru_cache(maxsize=256)
def _matrix(source: str, target: str, cat: str) -> Array:
    a, b = primaries(source), primaries(target)
    m = np.linalg.inv(b.to_xyz) @ adaptation(a.white, b.white, cat) @ a.to_xyz
    m.setflags(write=False)
    return m


def matrix(source: str, target: str, cat: str = "CAT02") -> Array:
    """(3, 3) matrix from linear RGB in ``source`` primaries to ``target``; white goes to white.

    ``cat`` is one of :data:`CATS`. Negatives and values above one pass through linearly.
    """
    return _matrix(source, target, cat)
