"""Colour balance as a shift in mired and a tint as Duv."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from ..spaces.planckian import locus_normal, locus_uv, mired, uv_to_xy, xy_to_uv
from ..spaces.primaries import ACES_WHITE, adaptation, primaries
from .base import Context, Domain, Op, Step
from .params import Param

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


def balance_matrix(mired_shift: float, duv: float) -> NDArray[np.float64]:
    """(3, 3) in linear ACEScg: CAT16 adaptation (Li et al. 2017) from the white to the shifted white."""
    if mired_shift == 0 and duv == 0:
        return np.eye(3)
    to_xyz = primaries("ACEScg").to_xyz
    cat = adaptation(ACES_WHITE, shifted_white(mired_shift, duv), "CAT16")
    return np.linalg.inv(to_xyz) @ cat @ to_xyz


class Balance(Step):
    """Warms or cools the whole picture as a conversion filter or another lamp would."""

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "scene"
    summary: ClassVar[str] = "warmer or cooler (mired), greener or pinker (Duv)"

    kind: Literal["balance"] = "balance"
    mired: float = Param(
        0.0,
        low=-100.0,
        high=200.0,
        neutral=0.0,
        unit="mired",
        soft=(-60.0, 60.0),
        help="shift along the blackbody line, + is warmer",
        source="sign of conversion filters: +131 turns 5500 K to 3200 K",
    )
    tint: float = Param(
        0.0,
        low=-0.03,
        high=0.03,
        neutral=0.0,
        unit="Duv",
        soft=(-0.01, 0.01),
        help="shift across the blackbody line, + is greener, - is pinker",
        source="Duv as in ANSI C78.377",
    )

    def prepare(self, context: Context) -> Op:
        return Op("balance", matrix=balance_matrix(self.mired, self.tint))

    def in_words(self) -> str:
        parts = []
        if self.mired:
            parts.append(f"{'warms' if self.mired > 0 else 'cools'} by {abs(self.mired):g} mired")
        if self.tint:
            parts.append(f"tints {'green' if self.tint > 0 else 'pink'} by {abs(self.tint):g} Duv")
        return " and ".join(parts) or "leaves the balance as it is"
