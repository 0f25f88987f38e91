"""A ratio as it is spoken of on set, as light, and as what each lamp gives alone."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lookwright.assess.measure.ratios import key_over_fill, spoken_ratio


@dataclass(frozen=True)
class Spoken:
    """Two zones against each other, three ways."""

    first_level: float
    second_level: float
    spoken: float | None
    """Quotient of the levels, as it is said; no ratio of light. None where a level is not above zero."""
    light: float
    """Quotient of the light."""
    stops: float
    """The same in stops."""
    lamps: float | None
    """Of the two sides of one face: key lamp over fill lamp, where both reach the lit side and only the fill reaches
    the shaded one: one less than the light's ratio. None for other pairs, or where the first is not the brighter."""

    def in_words(self) -> str:
        """Both ways of speaking, and the light, on one line."""
        said = "no ratio" if self.spoken is None else f"spoken of as {spoken_ratio(self.spoken)}"
        light = f"{precise(self.light)} in light, {self.stops:+.1f} stops"
        if self.lamps is None or self.lamps < 0.05:
            return f"{said}; {light}"
        return f"{said}; {light} (key + fill : fill), {precise(self.lamps)} lamp to lamp (key : fill)"


def precise(ratio: float) -> str:
    """``24 : 1``, ``2.4 : 1``, ``1 : 3.1``."""
    if ratio < 1.0:
        return f"1 : {_digits(1.0 / max(ratio, 1e-9))}"
    return f"{_digits(ratio)} : 1"


def _digits(value: float) -> str:
    return f"{value:.0f}" if value >= 9.5 else f"{value:.1f}"


def spoken(
    first_level: float, second_level: float, first_light: float, second_light: float, sides: bool = False
) -> Spoken:
    """From the levels in percent and the light (above zero) of two zones; ``sides``: of one face."""
    said = first_level / second_level if first_level > 0.5 and second_level > 0.5 else None
    light = first_light / second_light
    lamps = key_over_fill(light) if sides and light > 1.0 else None
    return Spoken(first_level, second_level, said, light, math.log2(light), lamps)
