"""Transfer curves we need at every bake: ACEScct, ACEScc, sRGB and plain powers.

They are written out here because importing the library costs more than a whole
bake; tests/published holds them against the printed values and two libraries.
Camera curves, PQ and HLG stand in camera_curves.py.
All functions take and give float64 arrays of any shape.
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

# ACEScct, S-2016-001 equations 1 to 3.
_CCT_A = 10.5402377416545
_CCT_B = 0.0729055341958355
ACESCCT_BREAK = 0.0078125
_CCT_Y_BREAK = 0.155251141552511
ACESCCT_SLOPE = 17.52
ACESCCT_OFFSET = 9.72
HALF_MAX = 65504.0
"""Largest finite half float; ACEScct and ACEScc decode no further (S-2016-001 equation 3)."""


def acescct_encode(linear: Array) -> Array:
    """Linear AP1 to ACEScct code; S-2016-001 eq. 1. Negatives follow the straight part."""
    linear = np.asarray(linear, np.float64)
    log = (np.log2(np.maximum(linear, ACESCCT_BREAK)) + ACESCCT_OFFSET) / ACESCCT_SLOPE
    return np.where(linear <= ACESCCT_BREAK, _CCT_A * linear + _CCT_B, log)


def acescct_decode(code: Array) -> Array:
    """ACEScct code to linear AP1; S-2016-001 eq. 3, held at 65504 above code 1.468."""
    code = np.asarray(code, np.float64)
    exponent = np.minimum(code * ACESCCT_SLOPE - ACESCCT_OFFSET, np.log2(HALF_MAX))
    return np.where(code <= _CCT_Y_BREAK, (code - _CCT_B) / _CCT_A, np.exp2(exponent))


def acescc_encode(linear: Array) -> Array:
    """Linear AP1 to ACEScc code; S-2014-003 eq. 1. All negatives share one code."""
    linear = np.asarray(linear, np.float64)
    floor = 2.0**-16
    low = np.log2(floor + np.maximum(linear, 0.0) * 0.5)
    high = np.log2(np.maximum(linear, 2.0**-15))
    return (np.where(linear < 2.0**-15, low, high) + ACESCCT_OFFSET) / ACESCCT_SLOPE


def acescc_decode(code: Array) -> Array:
    """ACEScc code to linear AP1; S-2014-003 eq. 2, held at 65504."""
    code = np.asarray(code, np.float64)
    value = np.exp2(np.minimum(code * ACESCCT_SLOPE - ACESCCT_OFFSET, np.log2(HALF_MAX)))
    return np.where(code <= (ACESCCT_OFFSET - 15.0) / ACESCCT_SLOPE, (value - 2.0**-16) * 2.0, value)


def srgb_encode(light: Array) -> Array:
    """Linear to sRGB signal; IEC 61966-2-1. Odd for negatives, open above one."""
    light = np.asarray(light, np.float64)
    size = np.abs(light)
    high = 1.055 * np.power(np.maximum(size, 0.0031308), 1.0 / 2.4) - 0.055
    return np.copysign(np.where(size <= 0.0031308, 12.92 * size, high), light)


def srgb_decode(signal: Array) -> Array:
    """sRGB signal to linear; IEC 61966-2-1. Odd for negatives, open above one."""
    signal = np.asarray(signal, np.float64)
    size = np.abs(signal)
    high = np.power((np.maximum(size, 0.04045) + 0.055) / 1.055, 2.4)
    return np.copysign(np.where(size <= 0.04045, size / 12.92, high), signal)


def power_encode(light: Array, gamma: float) -> Array:
    """``light ** (1/gamma)``, odd for negatives. BT.1886 annex 1 with black at 0 has gamma 2.4."""
    return np.copysign(np.power(np.abs(light), 1.0 / gamma), light)


def power_decode(signal: Array, gamma: float) -> Array:
    """``signal ** gamma``, odd for negatives."""
    return np.copysign(np.power(np.abs(signal), gamma), signal)
