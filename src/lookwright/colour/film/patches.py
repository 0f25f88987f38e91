"""The colours against which the film set is chosen and tested, and their hue measures.

Spectra come from colour-science (imported inside the functions); nothing is copied here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.oklab import DISPLAY_TO_LMS, SCENE_TO_LMS, light_to_oklab
from lookwright.colour.spaces.primaries import adaptation, primaries

NEUTRALS = 6
"""The last six of the 24 patches are greys, which have no hue."""

SKIN_SAMPLES = {"CES 15": 14, "CES 18": 17}
"""Skin among the colour evaluation samples (ANSI/IES TM-30-24), with their columns in CIE 224:2017 order."""

SKIN_PATCHES = ("dark skin", "light skin")


def colorchecker() -> dict[str, Array]:
    """The 24 ColorChecker patches as linear ACEScg, (3,) each.

    ISO 17321-1 spectra through the ACES reference device under D60 (SMPTE ST 2065-1),
    then AP0 to AP1.
    """
    colour = colour_library()
    light = colour.SDS_ILLUMINANTS["D60"]
    to_ap1 = np.linalg.inv(primaries("ACEScg").to_xyz) @ primaries("ACES2065-1").to_xyz
    found = {}
    for name, sd in colour.SDS_COLOURCHECKERS["ISO 17321-1"].items():
        with colour.utilities.suppress_warnings(colour_runtime_warnings=True):  # tells of its own resampling
            aces = colour.sd_to_aces_relative_exposure_values(sd, light)
        found[str(name)] = to_ap1 @ np.asarray(aces, np.float64)
    return found


def skin_samples() -> dict[str, Array]:
    """The skin samples of TM-30 as linear ACEScg: D65, CIE 1931 observer, CAT02 to the ACES white."""
    colour = colour_library()
    from colour.quality.cfi2017 import load_TCS_CIE2017

    shape = colour.SpectralShape(380, 780, 1)
    samples = load_TCS_CIE2017(shape).values
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values
    weights = light[:, None] * cmfs
    white = weights.sum(axis=0) / weights[:, 1].sum()
    ap1 = primaries("ACEScg")
    xy = (float(white[0] / white.sum()), float(white[1] / white.sum()))
    to_ap1 = np.linalg.inv(ap1.to_xyz) @ adaptation(xy, ap1.white)
    return {
        name: to_ap1 @ (samples[:, column] @ weights / weights[:, 1].sum()) for name, column in SKIN_SAMPLES.items()
    }


@dataclass(frozen=True)
class Turn:
    """How a rendering moved colours, each against the plain colorimetry of the same scene light."""

    hue: Array
    """Oklab hue turn in degrees, -180..180, positive = anticlockwise (red to yellow to green)."""
    chroma: Array
    """Ratio of Oklab chroma C."""
    saturation: Array
    """Ratio of C / L, which exposure does not move."""


def turns(render: Callable[[Array], Array], scene: Array) -> Turn:
    """Compare ``render(scene)`` (display light, linear BT.2020) with ``scene`` (linear ACEScg), (..., 3)."""
    plain = light_to_oklab(scene, SCENE_TO_LMS)
    shown = light_to_oklab(render(scene), DISPLAY_TO_LMS)
    hue = np.arctan2(shown[..., 2], shown[..., 1]) - np.arctan2(plain[..., 2], plain[..., 1])
    ratio = np.hypot(shown[..., 1], shown[..., 2]) / np.hypot(plain[..., 1], plain[..., 2])
    return Turn(np.degrees((hue + np.pi) % (2.0 * np.pi) - np.pi), ratio, ratio * plain[..., 0] / shown[..., 0])
