"""What a display encoding is called outside: in an ICC profile, in the tags of a clip, on the canvas of a page.

One entry of ``encodings.py`` carries these facts; those who write profiles, clips and pages read them there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Canvas = Literal["", "srgb", "display-p3"]
"""The colour spaces a browser's canvas takes (HTML Standard, ``PredefinedColorSpace``), or none."""


@dataclass(frozen=True)
class IccCurve:
    """The decoding as a parametricCurveType of ICC.1:2022 10.18."""

    kind: int
    """Function type: 0 a power, 3 a power with a straight toe."""
    numbers: tuple[float, ...]
    """Its parameters in the order of the standard: g, then a, b, c, d."""
    words: str
    """The curve in the description of a profile."""


@dataclass(frozen=True)
class ClipTags:
    """Code points of ITU-T H.273 for one set of primaries: tables 2, 3 and 4."""

    gamut: str
    """Name of the primaries."""
    primaries: int
    transfer: int
    matrix: int


@dataclass(frozen=True)
class DisplayFacts:
    """What each consumer of a display encoding needs to know of it."""

    icc: IccCurve | None
    """None where a curve from 0..1 to 0..1 cannot say it: those that carry more than reference white."""
    icc_title: str
    """Description of the profile with the encoding's usual primaries; empty: made of primaries and curve."""
    tags: tuple[ClipTags, ...]
    """One for each set of primaries that H.273 can state with this curve."""
    untagged: str
    """Why there are no tags for its usual primaries; empty where there are."""
    canvas: Canvas
    """The canvas whose code values these are, with the usual primaries; empty: a page must convert."""


def gamma(exponent: float) -> IccCurve:
    """A plain power."""
    return IccCurve(0, (exponent,), f"gamma {exponent:g}")


SRGB_CURVE = IccCurve(3, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045), "the sRGB curve")
"""IEC 61966-2-1."""
