"""The signal encodings a look can be fed with or give, by their published names.

``scene`` encodings carry scene light (0.18 = an 18 % grey card as exposed);
``display`` encodings carry display light (1.0 = reference white). Any log curve
that colour-science registers can be named too, and is evaluated there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any, Literal

import numpy as np

from lookwright.arrays import Array

from . import camera_curves, curves
from .display import SRGB_CURVE, ClipTags, DisplayFacts, gamma
from .library import colour_library
from .names import find, fold
from .pairing import short_names, usual_primaries

Curve = Callable[[Array], Array]
REFERENCE_WHITE_NITS = 203.0
"""Luminance of HDR reference white in cd/m2; BT.2408-7 table 1."""
HLG_PEAK_NITS = 1000.0
"""Nominal peak of the HLG display; BT.2100-3 note 5f gives its system gamma of 1.2."""


@dataclass(frozen=True)
class Encoding:
    """One transfer curve with the primaries that usually go with it.

    ``decode`` and ``encode`` take and give (..., 3) float64, signal 0..1 nominal;
    finite in, finite out over at least -0.1..1.2 of signal.
    """

    name: str
    kind: Literal["scene", "display"]
    primaries: str
    decode: Curve
    encode: Curve
    source: str
    """The document that defines it."""
    peak: float = 1.0
    """Largest display light the encoding carries, relative to reference white (display kinds)."""
    gamuts: tuple[str, ...] = ()
    """Other published primaries used with it."""
    display: DisplayFacts | None = None
    """What profiles, clips and pages need to know of it; every display encoding has it, no other."""
    unit_nits: float = 100.0
    """Luminance of display light 1 in cd/m2 (display kinds)."""
    rendered_nits: float = 100.0
    """Peak that pictures in it are rendered for where nothing else is said, in cd/m2 (display kinds)."""
    system_gamma: float = 1.0
    """Exponent of a display whose peak depends on luminance: HLG's."""

    def __post_init__(self) -> None:
        if (self.kind == "display") != (self.display is not None):
            raise ValueError(f"{self.name}: display facts belong to display encodings, and to each")

    @property
    def linear(self) -> bool:
        """Whether code values are the light itself."""
        return self.decode is _identity

    def __reduce__(self) -> tuple[Any, ...]:
        return encoding, (self.name,)  # curves are closures; processes look the name up again


def _identity(x: Array) -> Array:
    return np.asarray(x, np.float64)


_LOWEST_CODE = -1.0
"""Where light that a logarithm without a straight toe cannot encode is held; far below any code in use."""


@lru_cache(maxsize=64)
def _fails_below(registered: str) -> bool:
    """Whether a registered log encoding gives no number for light far below black."""
    with np.errstate(all="ignore"):
        return not np.isfinite(colour_library().LOG_ENCODINGS[registered](-1e6))


def _library_curve(registered: str, decode: bool) -> Curve:
    """A log curve of colour-science in reflectance and normalised full-range code (its defaults).

    The defaults matter: with ``in_reflection=False`` or ``out_normalised_code_value=False`` some
    curves return IRE instead. A few registered encodings (none of the curated) give NaN for light far
    below black; it is held at code -1, so that no NaN can enter a lattice.
    """

    def apply(x: Array) -> Array:
        colour = colour_library()
        table = colour.LOG_DECODINGS if decode else colour.LOG_ENCODINGS
        x = np.asarray(x, np.float64)
        with np.errstate(all="ignore"):
            y = np.asarray(table[registered](x), np.float64)
        if not decode and _fails_below(registered):
            y = np.where(y > _LOWEST_CODE, y, _LOWEST_CODE)  # also where y is NaN
        return y

    return apply


def _pq_decode(signal: Array) -> Array:
    return camera_curves.pq_to_nits(np.clip(signal, 0.0, 1.0)) / REFERENCE_WHITE_NITS


def _pq_encode(light: Array) -> Array:
    return camera_curves.nits_to_pq(np.clip(np.asarray(light) * REFERENCE_WHITE_NITS, 0.0, 10000.0))


def _hlg_decode(signal: Array) -> Array:
    return camera_curves.hlg_to_nits(np.clip(signal, 0.0, 1.0), HLG_PEAK_NITS) / REFERENCE_WHITE_NITS


def _hlg_encode(light: Array) -> Array:
    nits = np.maximum(np.asarray(light) * REFERENCE_WHITE_NITS, 0.0)
    # The system gamma acts on luminance, so a strong blue needs more than signal 1 well below the peak: it clips.
    return np.clip(camera_curves.nits_to_hlg(nits, HLG_PEAK_NITS), 0.0, 1.0)


# name, key in colour-science, primaries, other gamuts, document
_CAMERA: tuple[tuple[str, str, str, tuple[str, ...], str], ...] = (
    ("S-Log3", "S-Log3", "S-Gamut3.Cine", ("S-Gamut3",), "Technical Summary for S-Log3, V1.00"),
    ("S-Log2", "S-Log2", "S-Gamut", (), "S-Log2 Technical Paper, 2012"),
    ("V-Log", "V-Log", "V-Gamut", (), "V-Log/V-Gamut Reference Manual, 2014"),
    ("LogC3", "ARRI LogC3", "Wide Gamut 3", (), "Log C Curve, SUP 3.x, EI 800, 2012"),
    ("LogC4", "ARRI LogC4", "Wide Gamut 4", (), "LogC4 Specification, 2022"),
    ("Log3G10", "Log3G10", "WideGamutRGB", (), "White paper on WideGamutRGB and Log3G10, 2017"),
    ("F-Log", "F-Log", "F-Gamut", (), "F-Log Data Sheet 1.1"),
    ("F-Log2", "F-Log2", "F-Gamut", ("F-Gamut C",), "F-Log2 Data Sheet 1.0"),
    ("N-Log", "N-Log", "N-Gamut", (), "N-Log Specification 1.0.0"),
    ("D-Log", "D-Log", "D-Gamut", (), "White Paper on D-Log and D-Gamut"),
    ("L-Log", "L-Log", "BT.2020", (), "L-Log reference manual"),
    ("Apple Log", "Apple Log Profile", "BT.2020", (), "Log Profile White Paper, 2023"),
    ("Mi-Log", "Mi-Log", "BT.2020", (), "Mi-Log white paper, as colour-science has it"),
)


def _display() -> list[Encoding]:
    """The display encodings, each with all that is known of it in one place."""
    return [
        Encoding(
            "BT.1886",
            "display",
            "BT.709",
            partial(curves.power_decode, gamma=2.4),
            partial(curves.power_encode, gamma=2.4),
            "BT.1886 annex 1, black 0",
            display=DisplayFacts(
                icc=gamma(2.4),
                icc_title="BT.709 with BT.1886 (gamma 2.4)",
                # H.273 has no code for BT.1886: it is how displays decode what is tagged BT.709 or BT.2020.
                tags=(ClipTags("BT.709", 1, 1, 1), ClipTags("BT.2020", 9, 14, 9)),
                untagged="",
                # Shown as they are, as a monitor set to it would: a page cannot know the screen's own curve.
                canvas="srgb",
            ),
        ),
        Encoding(
            "sRGB",
            "display",
            "BT.709",
            curves.srgb_decode,
            curves.srgb_encode,
            "IEC 61966-2-1",
            display=DisplayFacts(SRGB_CURVE, "sRGB", (ClipTags("BT.709", 1, 13, 1),), "", "srgb"),
        ),
        Encoding(
            "P3-D65 2.6",
            "display",
            "P3-D65",
            partial(curves.power_decode, gamma=2.6),
            partial(curves.power_encode, gamma=2.6),
            "SMPTE EG 432-1 primaries, ST 428-1 exponent",
            display=DisplayFacts(
                icc=gamma(2.6),
                icc_title="",
                tags=(),
                untagged="H.273 has the 2.6 power only for X'Y'Z' of cinema packages (transfer 17)",
                canvas="",
            ),
        ),
        Encoding(
            "Display P3",
            "display",
            "P3-D65",
            curves.srgb_decode,
            curves.srgb_encode,
            "SMPTE EG 432-1 primaries, IEC 61966-2-1 curve",
            display=DisplayFacts(SRGB_CURVE, "Display P3", (ClipTags("P3-D65", 12, 13, 1),), "", "display-p3"),
        ),
        Encoding(
            "BT.2100 PQ",
            "display",
            "BT.2020",
            _pq_decode,
            _pq_encode,
            "BT.2100-3 table 4",
            peak=10000.0 / REFERENCE_WHITE_NITS,
            display=DisplayFacts(None, "", (ClipTags("BT.2020", 9, 16, 9),), "", ""),
            unit_nits=REFERENCE_WHITE_NITS,
            rendered_nits=1000.0,
        ),
        Encoding(
            "BT.2100 HLG",
            "display",
            "BT.2020",
            _hlg_decode,
            _hlg_encode,
            "BT.2100-3 table 5",
            peak=HLG_PEAK_NITS / REFERENCE_WHITE_NITS,
            display=DisplayFacts(None, "", (ClipTags("BT.2020", 9, 18, 9),), "", ""),
            unit_nits=REFERENCE_WHITE_NITS,
            rendered_nits=HLG_PEAK_NITS,
            system_gamma=1.2,
        ),
    ]


def _curated() -> dict[str, Encoding]:
    rows = [
        Encoding("ACEScct", "scene", "ACEScg", curves.acescct_decode, curves.acescct_encode, "S-2016-001"),
        Encoding("ACEScc", "scene", "ACEScg", curves.acescc_decode, curves.acescc_encode, "S-2014-003"),
        Encoding("ACEScg", "scene", "ACEScg", _identity, _identity, "S-2014-004, linear"),
        Encoding("ACES2065-1", "scene", "ACES2065-1", _identity, _identity, "S-2021-001, linear"),
        *(
            Encoding(name, "scene", gamut, *camera_curves.CURVES[name], doc, gamuts=more)
            for name, _, gamut, more, doc in _CAMERA
        ),
        *_display(),
    ]
    return {e.name: e for e in rows}


CURATED = _curated()

_ALIASES = {
    "BT.1886/BT.709": "BT.1886",
    "Rec.709": "BT.1886",
    "BT.709": "BT.1886",
    "PQ": "BT.2100 PQ",
    "ST 2084": "BT.2100 PQ",
    "HLG": "BT.2100 HLG",
    "P3-D65": "P3-D65 2.6",
    "LogC3 EI800": "LogC3",
    "linear": "ACEScg",
}


@lru_cache(maxsize=128)
def encoding(name: str) -> Encoding:
    """Look up an encoding: curated name, alias, or any log curve registered in colour-science.

    Case, spaces and punctuation do not matter, and a log goes by its short names too (:func:`short_names`). A curve
    outside the curated list has its maker's primaries where there is one usual pair; else ``primaries`` is empty and
    ``gamuts`` lists the candidates. Raises :class:`NameLookupError` with near matches.
    """
    wanted = fold(name)
    for key, curated in CURATED.items():
        if fold(key) == wanted:
            return curated
    for alias, real in _ALIASES.items():
        if fold(alias) == wanted:
            return CURATED[real]
    of_registered = {registered: camera for camera, registered, *_ in _CAMERA}
    registered_names = list(colour_library().LOG_DECODINGS)
    exact = [n for n in registered_names if fold(n) == wanted]
    short = exact or [n for n in registered_names if wanted in short_names(n)]
    # Two curves of one short name: neither, and the near matches are told.
    key = short[0] if len(short) == 1 else find(name, [*CURATED, *_ALIASES, *registered_names], "encoding")
    if key in of_registered or key in CURATED:
        return CURATED[of_registered.get(key, key)]
    pair = usual_primaries(key)
    usual, others = (pair[0], ()) if len(pair) == 1 else ("", pair)
    decode, encode = _library_curve(key, True), _library_curve(key, False)
    return Encoding(key, "scene", usual, decode, encode, "as registered in colour-science", gamuts=others)
