"""The colours that measures send through: greys, circles of hues, and real surfaces."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.oklab import GREY_LIGHTNESS, opponent_to_scene
from lookwright.colour.spaces.primaries import ACES_WHITE, D65, adaptation, primaries

GREY = 0.18


def stops_range(low: float, high: float, step: float) -> Array:
    """low, low + step, .. high."""
    return np.asarray(low + step * np.arange(round((high - low) / step) + 1), np.float64)


def greys(stops: Array) -> Array:
    """Neutral scene light (n, 3) at so many stops from middle grey."""
    return np.repeat((GREY * np.exp2(stops))[..., None], 3, axis=-1)


def hues(stops: Array | float, saturation: Array | float, hue_deg: Array) -> Array:
    """Scene light, linear ACEScg, at these Oklab hues.

    ``stops`` is that of the lightness, ``saturation`` is chroma over lightness (skin has about 0.08, a BT.709
    primary 0.34 to 0.69); the three broadcast. Returns (..., 3).
    """
    s, c, h = np.broadcast_arrays(
        np.asarray(stops, np.float64), np.asarray(saturation, np.float64), np.radians(hue_deg)
    )
    return opponent_to_scene(np.stack([GREY_LIGHTNESS * np.exp2(s / 3.0), c * np.cos(h), c * np.sin(h)], axis=-1))


@lru_cache(maxsize=1)
def surfaces() -> dict[str, Array]:
    """Real surface colours as scene light, a perfect white at 1.0.

    Returns
    -------
    dict
        ``chart`` (24, 3): the 24-patch chart, ISO 17321-1 spectra under D65. ``samples`` (99, 3): the colour evaluation
        samples of CIE 224:2017 under D65. ``pointer`` (576, 3): the boundary of real surface colours (Pointer 1980),
        measured under illuminant C and adapted from it by CAT02. All through colour-science, CIE 1931 observer.
    """
    colour = colour_library()
    shape = colour.SpectralShape(380, 780, 5)
    observer = np.asarray(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values)
    power = np.asarray(colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values)
    power = power / (power @ observer[:, 1])
    chart = np.array([sd.copy().align(shape).values for sd in colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()])
    samples = np.asarray(colour.quality.cfi2017.load_TCS_CIE2017(shape).values).T

    def scene(xyz: Array, white: tuple[float, float]) -> Array:
        return xyz @ (np.linalg.inv(primaries("ACEScg").to_xyz) @ adaptation(white, ACES_WHITE)).T

    white = (float(colour.models.CCS_ILLUMINANT_POINTER_GAMUT[0]), float(colour.models.CCS_ILLUMINANT_POINTER_GAMUT[1]))
    lch = np.asarray(colour.models.DATA_POINTER_GAMUT_VOLUME, np.float64)
    angle = np.radians(lch[:, 2])
    lab = np.stack([lch[:, 0], lch[:, 1] * np.cos(angle), lch[:, 1] * np.sin(angle)], axis=-1)
    pointer = np.asarray(colour.Lab_to_XYZ(lab, np.array(white)))
    return {
        "chart": scene((chart * power) @ observer, D65),
        "samples": scene((samples * power) @ observer, D65),
        "pointer": scene(pointer, white),
    }
