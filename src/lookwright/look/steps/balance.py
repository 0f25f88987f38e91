"""Colour balance as a shift in mired and a tint as Duv."""

from __future__ import annotations

from typing import ClassVar, Literal

from lookwright.colour.balance import balance_matrix

from .base import Context, Domain, Op, Step
from .params import Param


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
        main=True,
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
        main=True,
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
