"""The exposure map in steps: which step each pixel is in, and the picture of it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.luma import luma_percent
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import WrongUse

from .levels import scene_luminance, stops_from
from .step_colours import MOST_STEPS, step_colours

Unit = Literal["stops", "percent"]

STOP_BOUNDS = tuple(float(s) for s in range(-5, 5))
"""Borders a stop apart from five under middle grey to four over: where faces live, -2 to +1, there are three whole
steps, in the middle of the scale of lightness."""
PERCENT_BOUNDS = tuple(float(p) for p in range(5, 100, 10))
"""Borders that put the round tens of signal percent in the middle of their steps."""
_KEPT = 0.22
"""How much of the picture's own detail shows in the map: enough to know a face, too little to change a step's name
(CIEDE2000 of at most 5 from the plain colour, measured)."""


@dataclass(frozen=True)
class Steps:
    """Borders of the steps, rising; ``len(bounds) + 1`` steps with the two open ends.

    Raises :class:`WrongUse` for none, for more than can be told apart, or for borders that do not rise.
    """

    unit: Unit
    bounds: tuple[float, ...]
    colours: Array = field(init=False, compare=False, repr=False)
    """(steps, 3) sRGB code values."""

    def __post_init__(self) -> None:
        count = len(self.bounds)
        if not 1 <= count <= MOST_STEPS - 1:
            raise WrongUse(f"{count} borders of steps: 1 to {MOST_STEPS - 1}, or the steps cannot be told apart")
        if not np.isfinite(self.bounds).all() or not (np.diff(self.bounds) > 0.0).all():
            raise WrongUse("the borders of steps must be numbers that rise, such as -2,-1,0,1")
        object.__setattr__(self, "colours", step_colours(count + 1))

    @property
    def count(self) -> int:
        """How many steps."""
        return len(self.bounds) + 1

    @property
    def labels(self) -> tuple[str, ...]:
        """What each step is called: its two borders, the ends open."""
        mark = " %" if self.unit == "percent" else ""
        said = [_number(b, self.unit) for b in self.bounds]
        inner = [f"{a} to {b}" for a, b in pairwise(said)]
        return (f"under {said[0]}{mark}", *inner, f"over {said[-1]}{mark}")

    def of(self, values: NDArray[Any]) -> NDArray[np.intp]:
        """The step of each value, 0 to ``count - 1``; a value on a border belongs to the step above."""
        return np.searchsorted(np.asarray(self.bounds), values, side="right")

    def painted(self, values: NDArray[Any], picture: NDArray[Any] | None = None, off: Collection[int] = ()) -> Array:
        """(..., 3) sRGB code values: each pixel in its step's colour.

        ``picture`` (..., 3), code values 0..1, lends a little of its detail; steps ``off`` (by their number from 0)
        show it in grey.
        """
        step = self.of(values)
        out: Array = self.colours[step]
        if picture is None:
            return out
        luma = np.asarray(picture, np.float64) @ np.array([0.2126, 0.7152, 0.0722])
        if _KEPT:
            out = np.clip(out + _KEPT * _detail(luma)[..., None], 0.0, 1.0)
        if off:
            hidden = np.isin(step, list(off))
            out[hidden] = luma[hidden][..., None]
        return out


def _number(value: float, unit: Unit) -> str:
    return f"{value:g}" if unit == "percent" or value == 0 else f"{value:+g}".replace("-", "−")


def _detail(luma: Array) -> Array:
    """What is finer than two hundredths of the width, held to a tenth either way."""
    if luma.ndim != 2:
        return np.zeros_like(luma)
    from scipy.ndimage import uniform_filter  # slow to import, and seldom needed

    size = max(3, luma.shape[1] // 50)
    return np.clip(luma - uniform_filter(luma, size), -0.1, 0.1)


def steps_of(unit: Unit, bounds: Collection[float] = ()) -> Steps:
    """The usual steps of that unit, or those with these borders."""
    usual = STOP_BOUNDS if unit == "stops" else PERCENT_BOUNDS
    return Steps(unit, tuple(float(b) for b in bounds) or usual)


def step_values(pixels: NDArray[Any], signal: Signal, unit: Unit) -> tuple[Array, bool]:
    """What the steps are counted in, (...,): stops from middle grey of scene light, or percent of the signal; and
    whether it is an estimate (stops of a display picture, through the inverse of the plain rendering)."""
    if unit == "percent":
        return luma_percent(pixels, signal), False
    light, estimated = scene_luminance(pixels, signal)
    return stops_from(light), estimated
