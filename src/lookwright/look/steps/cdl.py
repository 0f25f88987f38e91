"""The ASC CDL in log."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from lookwright.colour.cdl import apply_cdl

from .base import Context, Domain, Op, Step
from .params import Param, Triple


class Cdl(Step):
    """Slope, offset, power and saturation, the numbers that travel in an ASC CDL file."""

    takes: ClassVar[Domain] = "log"
    gives: ClassVar[Domain] = "log"
    summary: ClassVar[str] = "ASC CDL: slope, offset, power, saturation, in ACEScct, not clamped"

    kind: Literal["cdl"] = "cdl"
    slope: Triple = Param(
        (1.0, 1.0, 1.0),
        low=0.1,
        high=4.0,
        neutral=1.0,
        soft=(0.7, 1.4),
        scale="log",
        help="gain of R, G, B",
        source="ASC CDL v1.2",
        main=True,
    )
    offset: Triple = Param(
        (0.0, 0.0, 0.0),
        low=-0.5,
        high=0.5,
        neutral=0.0,
        soft=(-0.1, 0.1),
        help="added to R, G, B",
        source="ASC CDL v1.2",
    )
    power: Triple = Param(
        (1.0, 1.0, 1.0),
        low=0.1,
        high=4.0,
        neutral=1.0,
        soft=(0.7, 1.4),
        scale="log",
        help="exponent of R, G, B",
        source="ASC CDL v1.2",
    )
    saturation: float = Param(
        1.0,
        low=0.0,
        high=3.0,
        neutral=1.0,
        soft=(0.5, 1.5),
        help="distance from luma",
        source="ASC CDL v1.2",
        main=True,
    )

    def prepare(self, context: Context) -> Op:
        slope, offset, power = np.array(self.slope), np.array(self.offset), np.array(self.power)
        return Op("cdl", lambda x: apply_cdl(x, slope, offset, power, self.saturation))

    def in_words(self) -> str:
        def triple(v: Triple) -> str:
            return " ".join(f"{c:g}" for c in v)

        return (
            f"applies slope {triple(self.slope)}, offset {triple(self.offset)}, power {triple(self.power)}, "
            f"saturation {self.saturation:g}"
        )
