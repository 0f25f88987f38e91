"""What is asked of a rendering: hue in three spaces, luminance, chroma, folds. A rendering is a function from linear
ACEScg (..., 3) to linear BT.2020 display light (..., 3), 1 = reference white."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lookwright.colour.film.patches import NEUTRALS, colorchecker
from lookwright.colour.film.skins import LIGHTS, lit, skins
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.primaries import D65, matrix, primaries, xy_to_xyz

Array = NDArray[np.float64]
Rendering = Callable[[Array], Array]

VISIBLE = 0.03
"""Oklab chroma under which a colour has no hue to speak of. With it the drift of ACES 2 comes out of our lights as
others have measured it on theirs (Jzazbz 7 and 12 degrees, CAM16 3 and 8)."""

DRIFT_STOPS = np.arange(-4.0, 10.01, 0.5)
KEPT_STOPS = (-3, -2, -1, 0, 1, 2)


def _xyz(light: Array) -> Array:
    return np.maximum(light @ primaries("BT.2020").to_xyz.T, 0.0)


def jzazbz(light: Array) -> Array:
    """Jzazbz of display light, reference white at 100 cd/m2."""
    return np.asarray(colour_library().XYZ_to_Jzazbz(_xyz(light) * 100.0))


def cam16(light: Array) -> Array:
    """J, C cos h, C sin h of CAM16: average surround, adapted to 20 cd/m2, illuminant discounted.

    Not discounted, hues near white are fiction.
    """
    colour = colour_library()
    with colour.utilities.suppress_warnings(colour_runtime_warnings=True, python_warnings=True):
        s = colour.XYZ_to_CAM16(
            _xyz(light) * 100.0,
            xy_to_xyz(D65) * 100.0,
            20.0,
            20.0,
            surround=colour.VIEWING_CONDITIONS_CAM16["Average"],
            discount_illuminant=True,
        )
    h = np.radians(s.h)
    return np.nan_to_num(np.stack([s.J, s.C * np.cos(h), s.C * np.sin(h)], -1))


SPACES: dict[str, Callable[[Array], Array]] = {"Oklab": light_to_oklab, "Jzazbz": jzazbz, "CAM16": cam16}


def turn(a: Array, b: Array) -> Array:
    """Hue of ``a`` less that of ``b``, degrees in -180..180; both with the two chroma axes last."""
    d = np.arctan2(a[..., 2], a[..., 1]) - np.arctan2(b[..., 2], b[..., 1])
    return (np.degrees(d) + 180.0) % 360.0 - 180.0


def plain_colorimetry(scene: Array) -> Array:
    """Scene light as linear BT.2020 under D65, what hue is held against."""
    return scene @ matrix("ACEScg", "BT.2020").T


def chroma(light: Array) -> Array:
    """Oklab chroma."""
    lab = light_to_oklab(light)
    return np.hypot(lab[..., 1], lab[..., 2])


def luminance(light: Array) -> Array:
    """Y, 1 = reference white."""
    return light @ primaries("BT.2020").luminance


def drift(render: Rendering, lights: Array, space: str, stops: Array = DRIFT_STOPS) -> Array:
    """(n,) span of hue in degrees that each light passes through as it is exposed, where its colour can be told."""
    out = render(lights[:, None, :] * 2.0 ** stops[None, :, None])
    lab, seen = SPACES[space](out), chroma(out) > VISIBLE
    spans = []
    for row, keep in zip(lab, seen, strict=True):
        h = np.arctan2(row[keep, 2], row[keep, 1])
        middle = np.angle(np.exp(1j * h).mean()) if len(h) else 0.0
        spans.append(float(np.degrees(np.ptp(np.angle(np.exp(1j * (h - middle)))))) if len(h) > 1 else 0.0)
    return np.array(spans)


def patch_turn(render: Rendering, scene: Array, stops: float, space: str) -> Array:
    """(n,) turn of hue of patches exposed by ``stops``, from the scene's colorimetry at its own exposure."""
    f = SPACES[space]
    return turn(f(render(scene * 2.0**stops)), f(plain_colorimetry(scene)))


def chart() -> Array:
    """(18, 3) the chromatic patches of the 24-patch chart, ACEScg."""
    return np.array(list(colorchecker().values()))[:-NEUTRALS]


def all_skins() -> Array:
    """(51, 3) the measured skins under each of their lights."""
    return np.concatenate([skins(light) for light in LIGHTS])


def dark_keeps(render: Rendering) -> float:
    """Chroma that the darkest skin keeps over what the lightest keeps: the least over lights and -3..+2 stops."""
    found = []
    for light in LIGHTS:
        x = skins(light)
        for stops in KEPT_STOPS:
            kept = chroma(render(x * 2.0**stops)) / chroma(plain_colorimetry(x * 2.0**stops))
            found.append(kept[0] / kept[-1])
    return float(min(found))


def falling(render: Rendering, lights: Array) -> int:
    """How many lights are anywhere darker on the screen with an eighth of a stop more of them, -6..+12 stops."""
    y = luminance(render(lights[:, None, :] * 2.0 ** np.arange(-6, 12.01, 0.125)[None, :, None]))
    return int((np.diff(y, axis=1) < -1e-9).any(axis=1).sum())


def surface_colours() -> Array:
    """ACEScg of the 99 colour evaluation samples (CIE 224:2017) under D65 and 3200 K, -4 to +1.5 stops."""
    from colour.quality.cfi2017 import load_TCS_CIE2017

    r = load_TCS_CIE2017(colour_library().SpectralShape(380, 780, 1)).values.T
    stops = np.arange(-4.0, 1.6, 0.5)
    return np.concatenate([lit(r, light) * 2.0**k for light in ("D65", "3200 K") for k in stops])


def folds(render: Rendering, scene: Array) -> int:
    """At how many colours the map turns over: its Jacobian (central differences, to Oklab) has no determinant > 0."""
    h = 1e-5 * np.abs(scene).max(axis=1, keepdims=True)
    sides = [
        (light_to_oklab(render(scene + h * e)) - light_to_oklab(render(scene - h * e))) / (2 * h) for e in np.eye(3)
    ]
    return int((np.linalg.det(np.stack(sides, -1)) <= 0.0).sum())
