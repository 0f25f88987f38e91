"""A colour balance as a matrix: a shift along and across the Planckian locus, adapted."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.planckian import locus_normal, locus_uv, mired, uv_to_xy, xy_to_uv
from lookwright.colour.spaces.primaries import ACES_WHITE, adaptation, primaries

WHITE_KELVIN = 6000.0
"""Correlated colour temperature of the ACES white (6000.04 K, Ohno 2013)."""


def shifted_white(mired_shift: float, duv: float) -> tuple[float, float]:
    """xy of the ACES white moved along the Planckian locus by ``mired_shift`` and across it by ``duv``.

    The white lies off the locus (Duv +0.003) and keeps that distance, along the normals: moved in parallel instead,
    it would fall 3 % short of the shift. 0, 0 gives the white itself. Positive mired is warmer (lower kelvin), the
    sign of conversion filters (85B = +131).
    """
    kelvin = 1e6 / max(mired(WHITE_KELVIN) + mired_shift, 1e6 / 15000.0)
    off = xy_to_uv(ACES_WHITE) - locus_uv(WHITE_KELVIN)
    own = float(off @ locus_normal(WHITE_KELVIN))
    along = off - own * locus_normal(WHITE_KELVIN)  # what the rounded temperature leaves, 1e-5
    return uv_to_xy(locus_uv(kelvin) + (own + duv) * locus_normal(kelvin) + along)


def balance_matrix(mired_shift: float, duv: float) -> Array:
    """(3, 3) in linear ACEScg: CAT16 adaptation (Li et al. 2017) from the white to the shifted white."""
    if mired_shift == 0 and duv == 0:
        return np.eye(3)
    to_xyz = primaries("ACEScg").to_xyz
    cat = adaptation(ACES_WHITE, shifted_white(mired_shift, duv), "CAT16")
    return np.linalg.inv(to_xyz) @ cat @ to_xyz
