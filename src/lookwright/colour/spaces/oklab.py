"""Oklab, and the opponent domain built on it.

Oklab: Ottosson 2020. The matrices are the later, refined pair (CSS Color Module
Level 4, sample code), whose neutrals have a = b = 0 to rounding; with the first
published pair D65 white carries a chroma of 1.2e-4, enough to tint a neutral
test. The cube root is signed, so that negative scene light from wide camera
primaries stays finite.

Words, as CIE S 017:2020 defines them: L is lightness, C = hypot(a, b) chroma (17-22-074), C / L
saturation (17-22-073): colour in proportion to how light the thing itself is, which exposure does not move.
Brightness and colourfulness depend on how much light there is to see by; nothing here computes them.
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

from .primaries import D65, adaptation, primaries

# fmt: off
XYZ_TO_LMS = np.array([
    [0.8190224379967030, 0.3619062600528904, -0.1288737815209879],
    [0.0329836539323885, 0.9292868615863434, 0.0361446663506424],
    [0.0481771893596242, 0.2642395317527308, 0.6335478284694309],
])
LMS_TO_LAB = np.array([
    [0.2104542683093140, 0.7936177747023054, -0.0040720430116193],
    [1.9779985324311684, -2.4285922420485799, 0.4505937096174110],
    [0.0259040424655478, 0.7827717124575296, -0.8086757549230774],
])
# fmt: on
# The last printed digit of a and b rows leaves 1e-10 of chroma on a grey; neutrals must be exactly
# neutral for the hold tests, so the rows are closed to sum to zero and the L row to one.
LMS_TO_LAB[1:] -= LMS_TO_LAB[1:].sum(axis=1, keepdims=True) / 3.0
LMS_TO_LAB[0] /= LMS_TO_LAB[0].sum()
LAB_TO_LMS = np.linalg.inv(LMS_TO_LAB)

LIGHTNESS_FLOOR = 0.01
"""Below this Oklab lightness (17.5 stops under white) ratios stop growing: noise near black stays finite."""

GREY_LIGHTNESS = float(np.cbrt(0.18))
"""Oklab lightness of an 18 % grey."""


def _rows_to_one(m: Array) -> Array:
    """Scale each row so that white maps to (1, 1, 1) exactly; the published matrix misses by 1e-8."""
    return m / m.sum(axis=1, keepdims=True)


def lms_matrix(name: str) -> Array:
    """(3, 3) linear RGB in the named primaries to Oklab's LMS; white is adapted to D65 by CAT02."""
    p = primaries(name)
    return _rows_to_one(XYZ_TO_LMS @ adaptation(p.white, D65) @ p.to_xyz)


SCENE_TO_LMS = lms_matrix("ACEScg")
LMS_TO_SCENE = np.asarray(np.linalg.inv(SCENE_TO_LMS), np.float64)
DISPLAY_TO_LMS = lms_matrix("BT.2020")
LMS_TO_DISPLAY = np.asarray(np.linalg.inv(DISPLAY_TO_LMS), np.float64)


def guarded(lightness: Array) -> Array:
    """A lightness that is never zero: sqrt(L^2 + floor^2). The divisor of the ratios."""
    return np.sqrt(lightness * lightness + LIGHTNESS_FLOOR**2)


def lab_to_ratios(lab: Array) -> Array:
    """(L, a, b) to (L, a/L, b/L) with the guarded divisor; exact inverse below."""
    out = lab.copy()
    out[..., 1:] /= guarded(lab[..., :1])
    return out


def ratios_to_lab(opponent: Array) -> Array:
    """(L, a/L, b/L) back to (L, a, b)."""
    out = opponent.copy()
    out[..., 1:] *= guarded(opponent[..., :1])
    return out


def light_to_oklab(rgb: Array, to_lms: Array = DISPLAY_TO_LMS) -> Array:
    """Linear RGB (..., 3) to Oklab; ``to_lms`` names the primaries (see :func:`lms_matrix`)."""
    return np.cbrt(np.asarray(rgb, np.float64) @ to_lms.T) @ LMS_TO_LAB.T


def oklab_to_light(lab: Array, from_lms: Array = LMS_TO_DISPLAY) -> Array:
    """Oklab (..., 3) to linear RGB."""
    return (np.asarray(lab, np.float64) @ LAB_TO_LMS.T) ** 3 @ from_lms.T


def scene_to_opponent(scene: Array) -> Array:
    """Linear ACEScg to the opponent domain (L, a/L, b/L)."""
    return lab_to_ratios(light_to_oklab(scene, SCENE_TO_LMS))


def opponent_to_scene(opponent: Array) -> Array:
    """The opponent domain back to linear ACEScg."""
    return oklab_to_light(ratios_to_lab(opponent), LMS_TO_SCENE)


def hue_and_saturation(opponent: Array) -> tuple[Array, Array]:
    """Hue angle in radians (-pi..pi) and saturation C / L = hypot(a/L, b/L), of the opponent domain (..., 3)."""
    p, q = opponent[..., 1], opponent[..., 2]
    return np.arctan2(q, p), np.hypot(p, q)


def stops_from_grey(lightness: Array) -> Array:
    """Stops of luminance-like light above 18 % grey: Oklab L is a cube root of light. Black: about -17."""
    return 3.0 * np.log2(guarded(lightness) / GREY_LIGHTNESS)
