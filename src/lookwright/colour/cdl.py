"""The ASC CDL as maths."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

LUMA = np.array([0.2126, 0.7152, 0.0722])
"""Luma weights of ASC CDL v1.2, whatever the primaries."""


def apply_cdl(x: Array, slope: Array, offset: Array, power: Array, saturation: float) -> Array:
    """ASC CDL v1.2 without clamps, the form S-2016-001 asks for in ACEScct.

    out = (x*slope + offset)^power where the base is positive, the base itself where it is not;
    then luma + saturation*(out - luma). ``x`` (..., 3); open above one and below zero.
    """
    base = x * slope + offset
    out = np.where(base < 0.0, base, np.power(np.maximum(base, 0.0), power))
    luma = (out @ LUMA)[..., None]
    return luma + saturation * (out - luma)
