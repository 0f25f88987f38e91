"""The scene colours of ``check``, worked out from spectra: what src/lookwright/assess/restraint/scene_colours.txt
holds.

    python tests/shared/scene_colours.py

writes that file anew. It is kept as a table because loading colour-science and its spectra takes three quarters of a
second; a test (tests/published/test_scene_colours.py) works it out again.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lookwright.assess import restraint
from lookwright.assess.measure.skin import MIXED_BALANCE_KELVIN, SKIN_SAMPLES, skin_scene
from lookwright.colour.film.lamps import emitters, observed, to_scene
from lookwright.colour.film.skins import PEOPLE, READINGS, reflectances
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.primaries import D65

Array = NDArray[np.float64]
TABLE = Path(restraint.__file__).parent / "scene_colours.txt"

HEAD = """\
# Scene light that looks are judged on: linear ACEScg, a perfect white in the same light at 1; lights at the level of
# a grey card. Group, name, R, G, B. Made by tests/shared/scene_colours.py, which says where each comes from.
"""

SKIES = (8000.0, 10000.0, 15000.0, 25000.0)
"""Correlated colour temperatures of skylight in kelvin: phases of CIE daylight, whose formula ends at 25000 K."""


def _power(name: str) -> Array:
    """Spectral power (401,) at 380 to 780 nm by 1: ``D65``, ``D55``, ``10000 K`` of daylight or ``3200 K`` of a
    lamp."""
    colour = colour_library()
    shape = colour.SpectralShape(380, 780, 1)
    if name in ("D65", "D55"):
        return np.asarray(colour.SDS_ILLUMINANTS[name].copy().align(shape).values, np.float64)
    kelvin = float(name.split()[0])
    if kelvin < 4000.0:
        return np.asarray(colour.sd_blackbody(kelvin, shape).values, np.float64)
    xy = colour.temperature.CCT_to_xy_CIE_D(kelvin)
    return np.asarray(colour.sd_CIE_illuminant_D_series(xy).copy().align(shape).values, np.float64)


def _weights(power: Array) -> Array:
    _, cmf = observed()
    return power[:, None] * cmf / (power @ cmf[:, 1])


def _xy(weights: Array) -> tuple[float, float]:
    white = weights.sum(axis=0)
    return float(white[0] / white.sum()), float(white[1] / white.sum())


def _lit(reflectance: Array, power: Array, balance: tuple[float, float] | None = None) -> Array:
    """ACEScg (n, 3) of reflectances (n, 401); the camera balanced to the light itself, or to ``balance``."""
    weights = _weights(power)
    return np.asarray((reflectance @ weights) @ to_scene(balance or _xy(weights)).T)


def _mixed(warm: float) -> Array:
    """A 3200 K lamp and D65 at once, so many parts of the warm one by luminance."""
    _, cmf = observed()
    a, b = _power("3200 K"), _power("D65")
    return warm * a / (a @ cmf[:, 1]) + (1.0 - warm) * b / (b @ cmf[:, 1])


def _skins() -> Iterator[tuple[str, str, Array]]:
    """17 people of the NIST set and four samples of charts, under five lights."""
    colour = colour_library()
    order = np.argsort(READINGS[6])
    people = [f"person {PEOPLE[i]}" for i in order]
    between = tuple(float(v) for v in colour.temperature.CCT_to_xy_CIE_D(MIXED_BALANCE_KELVIN))
    lights = {
        "daylight": (_power("D65"), None),
        "tungsten": (_power("3200 K"), None),
        "sun": (_power("D55"), None),
        "mixed, warm side": (_mixed(0.75), between),
        "mixed, cool side": (_mixed(0.25), between),
    }
    for light, (power, balance) in lights.items():
        for who, rgb in zip(people, _lit(reflectances(), power, balance), strict=True):
            yield light, who, rgb
    for light, four in skin_scene().items():
        for who, rgb in zip(SKIN_SAMPLES, four, strict=True):
            yield light, who, rgb


def _charts() -> dict[str, Array]:
    """Surfaces: the 24-patch chart (ISO 17321-1), the 99 samples of CIE 224:2017 (both D65), Pointer 1980."""
    colour = colour_library()
    shape = colour.SpectralShape(380, 780, 5)
    cmf = np.asarray(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values)
    power = np.asarray(colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values)
    power = power / (power @ cmf[:, 1])
    chart = np.array([sd.copy().align(shape).values for sd in colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()])
    samples = np.asarray(colour.quality.cfi2017.load_TCS_CIE2017(shape).values).T
    white = tuple(float(v) for v in colour.models.CCS_ILLUMINANT_POINTER_GAMUT)
    lch = np.asarray(colour.models.DATA_POINTER_GAMUT_VOLUME, np.float64)
    angle = np.radians(lch[:, 2])
    lab = np.stack([lch[:, 0], lch[:, 1] * np.cos(angle), lch[:, 1] * np.sin(angle)], axis=-1)
    pointer = np.asarray(colour.Lab_to_XYZ(lab, np.array(white)))
    return {
        "chart": (chart * power) @ cmf @ to_scene(D65).T,
        "samples": (samples * power) @ cmf @ to_scene(D65).T,
        "pointer": pointer @ to_scene((white[0], white[1])).T,
    }


def _memory() -> Iterator[tuple[str, str, Array]]:
    """Sky: the chart's patch and skylight over a sunlit scene. Leaves: the chart's foliage, sample 14 of CIE 13.3."""
    colour = colour_library()
    shape = colour.SpectralShape(380, 780, 1)
    patches = {k: np.asarray(v.copy().align(shape).values) for k, v in colour.SDS_COLOURCHECKERS["ISO 17321-1"].items()}
    leaf = np.asarray(colour.quality.SDS_TCS["CIE 1995"]["TCS14"].copy().align(shape).values, np.float64)
    sun = _xy(_weights(_power("D55")))
    yield "sky", "the chart's blue sky", _lit(patches["blue sky"][None], _power("D65"))[0]
    for kelvin in SKIES:
        rgb = to_scene(sun) @ _weights(_power(f"{kelvin:g} K")).sum(axis=0)
        yield "sky", f"skylight of {kelvin:g} K", 0.18 * rgb
    shade = _power("10000 K")
    for name, reflectance in (("the chart's foliage", patches["foliage"]), ("a leaf (CIE 13.3 sample 14)", leaf)):
        yield "leaves", f"{name} in daylight", _lit(reflectance[None], _power("D65"))[0]
        yield "leaves", f"{name} in the sun", _lit(reflectance[None], _power("D55"))[0]
        yield "leaves", f"{name} in open shade", _lit(reflectance[None], shade, sun)[0]


def rows() -> list[tuple[str, str, Array]]:
    """(group, name, ACEScg (3,)) of every colour, in the order of the file."""
    found = [(f"skin {light}", who, rgb) for light, who, rgb in _skins()]
    found += list(_memory())
    for group, colours in _charts().items():
        found += [(group, str(i + 1), rgb) for i, rgb in enumerate(colours)]
    return found + [("lights", name, rgb) for name, rgb in emitters().items()]


def text() -> str:
    """The whole file."""
    lines = [f"{group}; {name}; {r:.6g}; {g:.6g}; {b:.6g}" for group, name, (r, g, b) in rows()]
    return HEAD + "\n".join(lines) + "\n"


if __name__ == "__main__":
    TABLE.write_text(text(), encoding="utf-8")
    print(f"{len(rows())} colours in {TABLE.name}")
