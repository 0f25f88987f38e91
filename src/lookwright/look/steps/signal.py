"""A correction of code values: slope, offset, power, saturation and two bends, on a signal that is named."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import Field

from lookwright.arrays import Array
from lookwright.colour.cdl import apply_cdl

from .base import Context, Domain, Op, Step
from .cdl import Cdl
from .lut import LutSignal
from .params import Param, Triple, info_of


def bent(x: Array, low: float, middle: float, high: float) -> Array:
    """x + x (1 - x) (low (1 - x) + middle x (1 - x) + high x) between 0 and 1, and x beyond.

    The ends stay. Within the declared bounds (-0.5 to 1, -1.5 to 1.5, -1 to 0.5) the slope stays above 0.2.
    """
    inside = np.clip(x, 0.0, 1.0)
    rest = 1.0 - inside
    return np.asarray(x + inside * rest * (low * rest + middle * inside * rest + high * inside))


def _as_cdl(name: str) -> Any:
    """The declaration of the same number in the step ``cdl``."""
    field = Cdl.model_fields[name]
    info = info_of(field)
    assert info is not None
    return Param(
        field.default,
        low=info.low,
        high=info.high,
        neutral=info.neutral,
        soft=(info.soft_low, info.soft_high),
        scale=info.scale,
        help=info.help,
        source=info.source,
    )


class SignalStep(Step):
    """What a correction does that was made on code values of one signal, wherever in the path that signal is."""

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "scene"
    summary: ClassVar[str] = "slope, offset, power, saturation and bends on the code values of a signal that is named"

    kind: Literal["signal"] = "signal"
    signal: LutSignal = Field(description="the signal whose code values are corrected")
    slope: Triple = _as_cdl("slope")
    offset: Triple = _as_cdl("offset")
    power: Triple = _as_cdl("power")
    saturation: float = _as_cdl("saturation")
    low: float = Param(
        0.0, low=-0.5, high=1.0, neutral=0.0, soft=(-0.3, 0.5), help="lifts or lowers the darker half, its ends kept"
    )
    middle: float = Param(
        0.0, low=-1.5, high=1.5, neutral=0.0, soft=(-0.5, 0.5), help="lifts or lowers the middle, both ends kept"
    )
    high: float = Param(
        0.0, low=-1.0, high=0.5, neutral=0.0, soft=(-0.5, 0.3), help="lifts or lowers the lighter half, its ends kept"
    )

    def domains(self) -> tuple[Domain, Domain]:
        kind: Domain = "scene" if self.signal.signal().kind == "scene" else "display"
        return kind, kind

    def prepare(self, context: Context) -> Op:
        signal = self.signal.signal()
        slope, offset, power = np.array(self.slope), np.array(self.offset), np.array(self.power)

        def apply(x: Array) -> Array:
            code = signal.from_scene(x) if signal.kind == "scene" else signal.from_light(x)
            code = apply_cdl(bent(code, self.low, self.middle, self.high), slope, offset, power, self.saturation)
            return signal.to_scene(code) if signal.kind == "scene" else signal.to_light(code)

        return Op("signal", apply)

    def in_words(self) -> str:
        def triple(v: Triple) -> str:
            return " ".join(f"{c:g}" for c in v)

        parts = [
            f"{name} {triple(value)}"
            for name, value, none in (
                ("slope", self.slope, (1.0, 1.0, 1.0)),
                ("offset", self.offset, (0.0, 0.0, 0.0)),
                ("power", self.power, (1.0, 1.0, 1.0)),
            )
            if value != none
        ]
        parts += [
            f"{name} {value:g}"
            for name, value, none in (
                ("saturation", self.saturation, 1.0),
                ("dark half bent by", self.low, 0.0),
                ("middle bent by", self.middle, 0.0),
                ("light half bent by", self.high, 0.0),
            )
            if value != none
        ]
        return f"corrects the code values of {self.signal.encoding}: " + (", ".join(parts) or "nothing")
