"""Exposure in stops."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from .base import Context, Domain, Op, Step, in_stops
from .params import Param


class Exposure(Step):
    """Multiplies scene light by 2^stops, as opening or closing the lens does."""

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "scene"
    summary: ClassVar[str] = "more or less light, in stops"

    kind: Literal["exposure"] = "exposure"
    stops: float = Param(
        0.0,
        low=-8.0,
        high=8.0,
        neutral=0.0,
        unit="stops",
        soft=(-2.0, 2.0),
        help="stops of light, + is brighter",
        acts_on="level",
        main=True,
    )

    def prepare(self, context: Context) -> Op:
        return Op("exposure", matrix=np.eye(3) * 2.0**self.stops)

    def in_words(self) -> str:
        if self.stops == 0:
            return "leaves the exposure as it is"
        return f"{'opens' if self.stops > 0 else 'closes'} by {in_stops(abs(self.stops))}"
