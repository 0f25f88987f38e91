"""Lights in the picture, for choosing the film set and for judging renderings: LEDs, lamps, flames, primaries."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.primaries import ACES_WHITE, D65, adaptation, primaries

GREY = 0.18

NEON = (
    (585.2, 20),
    (594.5, 5),
    (609.6, 3),
    (614.3, 10),
    (621.7, 2),
    (633.4, 8),
    (638.3, 9),
    (640.2, 20),
    (650.7, 10),
    (653.3, 3),
    (659.9, 4),
    (667.8, 6),
    (692.9, 10),
    (703.2, 30),
)
"""Strong lines of neon in a discharge tube, nm and relative power: the wavelengths of the NIST Atomic Spectra Database,
the powers rounded and from memory."""

LEDS = (405, 445, 460, 470, 490, 505, 525, 560, 590, 630)
"""Peak wavelengths in nm; bell curves of 10 nm standard deviation, green ones 15 (common, no source)."""

KELVIN = (1900, 2700, 12000)
"""Blackbodies: a candle, a lamp, a blue sky."""


def observed() -> tuple[Array, Array]:
    """Wavelengths (401,), 380 to 780 nm, and the CIE 1931 2 degree observer (401, 3) at them."""
    colour = colour_library()
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(colour.SpectralShape(380, 780, 1))
    return np.asarray(cmfs.wavelengths, np.float64), np.asarray(cmfs.values, np.float64)


def to_scene(white: tuple[float, float] = D65) -> Array:
    """Matrix (3, 3) from XYZ to ACEScg with the camera balanced to ``white``."""
    return np.linalg.inv(primaries("ACEScg").to_xyz) @ adaptation(white, ACES_WHITE)


@lru_cache(maxsize=1)
def emitters() -> dict[str, Array]:
    """29 lights as ACEScg (3,), the camera balanced to D65; the largest channel of each is that of an 18 % grey."""
    colour = colour_library()
    nm, cmf = observed()
    shape = colour.SpectralShape(380, 780, 1)
    found: dict[str, Array] = {}
    for peak in LEDS:
        width = 15.0 if peak in (525, 560) else 10.0
        found[f"LED {peak}"] = np.exp(-0.5 * ((nm - peak) / width) ** 2) @ cmf
    lines = np.sum([power * np.exp(-0.5 * ((nm - line) / 1.5) ** 2) for line, power in NEON], axis=0)
    found["neon sign"] = lines @ cmf
    for name, key in (("low-pressure sodium", "LPS"), ("high-pressure sodium", "HPS"), ("mercury", "Mercury")):
        found[name] = np.asarray(colour.SDS_LIGHT_SOURCES[key].copy().align(shape).values) @ cmf
    for kelvin in KELVIN:
        found[f"{kelvin} K"] = np.asarray(colour.sd_blackbody(kelvin, shape).values) @ cmf
    for name in ("BT.709", "P3-D65", "BT.2020"):
        for word, rgb in (("red", (1, 0, 0)), ("green", (0, 1, 0)), ("blue", (0, 0, 1))):
            if (name, word) != ("P3-D65", "blue"):  # the same light as BT.709's
                found[f"{name} {word}"] = primaries(name).to_xyz @ np.array(rgb, float)
    for word, rgb in (("cyan", (0, 1, 1)), ("magenta", (1, 0, 1)), ("yellow", (1, 1, 0))):
        found[f"BT.709 {word}"] = primaries("BT.709").to_xyz @ np.array(rgb, float)
    scene = {k: to_scene() @ v for k, v in found.items()}
    return {k: GREY * v / v.max() for k, v in scene.items()}
