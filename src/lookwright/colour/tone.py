"""The tone curve of the plain rendering: a straight line in log-log with a shoulder and a toe, for any peak."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

GREY = 0.18
LN2 = float(np.log(2.0))
DARKEST = 1e-12
"""Scene light below which there is none: 37 stops under grey."""


class ToneCurve:
    """Scene light to display light, one number each.

    With x in stops from 18 % grey, the shoulder form is log2(y / grey) = a - w ln(1 + exp((a - s x - o) / w)):
    slope s below, a ceiling a above, joined over about w stops. s and o are solved in closed form so that grey
    lands on ``grey`` with exactly the asked slope; a is solved (bisection, then Newton's method) so that ``white``
    stops over grey give ``peak``. The toe is y^2 / (y + toe), which bends the dark end down; grey and slope are
    corrected for it. For light >= 0; rising everywhere, invertible in closed form.

    Parameters
    ----------
    grey, toe, peak
        Display light, all in one unit.
    slope
        d log y / d log x at grey.
    shoulder, white
        Stops.
    straight
        Slope of the straight line itself, below the shoulder and before the toe; where given, ``slope`` is not looked
        at.
    """

    def __init__(
        self,
        grey: float,
        slope: float,
        shoulder: float,
        white: float,
        toe: float,
        peak: float,
        straight: float | None = None,
    ) -> None:
        self.toe, self.width = toe, shoulder * LN2
        # The toe maps y to z = y^2/(y+k); find the y that gives grey, and the slope it costs there.
        self.grey = float(self._untoe(np.array(grey)))
        toe_slope = (self.grey + 2.0 * toe) / (self.grey + toe)
        self.wanted, self.given = slope / toe_slope, straight
        self.ceiling = self._solve_ceiling(float(np.log2(self._untoe(np.array(peak)) / self.grey)), white)
        self.slope, self.offset = self._straight(self.ceiling)
        self.top = float(self._toed(self.grey * np.exp2(self.ceiling)))
        """Display light that no scene light reaches."""

    def _solve_ceiling(self, needed: float, white: float) -> float:
        """The ceiling with which ``white`` stops reach ``needed`` stops over grey."""

        def missing(ceiling: float) -> float:
            s, o = self._straight(ceiling)
            return float(self._bend(s * white + o, ceiling)[0]) - needed

        low, high = needed, needed + 40.0
        if missing(high) < 0.0:  # so flat a line never reaches the peak: leave it as bright as it gets
            return high
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if missing(middle) < 0.0 else (low, middle)
        # Secant steps end on the number itself: where halving ends depends on the last digit of exp and log.
        before, at = low, high
        for _ in range(3):
            a, b = missing(before), missing(at)
            before, at = at, at - b * (at - before) / (b - a) if b != a else at
        return float(np.clip(at, needed, needed + 40.0))

    def _straight(self, ceiling: float) -> tuple[float, float]:
        ratio = ceiling / self.width
        gap = float(np.log(np.expm1(ratio))) if ratio < 700 else ratio
        slope = float(self.wanted / -np.expm1(-ratio)) if self.given is None else self.given
        return slope, ceiling - self.width * gap

    def _bend(self, u: Array | float, ceiling: float) -> tuple[Array, Array]:
        """Stops over grey of the straight line's ``u``, and the slope left there."""
        v = (ceiling - np.asarray(u)) / self.width
        e = np.exp(-np.abs(v))
        return ceiling - self.width * (np.maximum(v, 0.0) + np.log1p(e)), np.where(v > 0.0, 1.0, e) / (1.0 + e)

    def _untoe(self, z: Array) -> Array:
        return 0.5 * (z + np.sqrt(z * z + 4.0 * self.toe * z))

    def _toed(self, y: Array) -> Array:
        return y * y / (y + self.toe)

    def with_shares(self, light: Array) -> tuple[Array, Array, Array]:
        """Display light of scene light, and what shoulder and toe do there; any shape, light >= 0.

        The second is the share of the straight line's slope that the shoulder leaves: 1 in the shadows, falling to 0
        at the ceiling. The third is the share of light that the toe takes: 0 in the lights, rising to 1 in black.
        """
        u = self.slope * np.log2(np.maximum(light, DARKEST) / GREY) + self.offset
        stops, share = self._bend(u, self.ceiling)
        y = self.grey * np.exp2(stops)
        if not self.toe:
            return y, share, np.zeros_like(y)
        deep = self.toe / (y + self.toe)
        return y * (1.0 - deep), share, deep

    def __call__(self, light: Array) -> Array:
        """Display light of scene light."""
        return self.with_shares(light)[0]

    def inverse(self, light: Array) -> Array:
        """Scene light that gives this display light; at or over the ceiling, the last stop below it."""
        y = np.maximum(self._untoe(np.maximum(light, 0.0)), 1e-30)
        room = np.maximum(self.ceiling - np.log2(y / self.grey), 1e-9)
        u = self.ceiling - self.width * (room / self.width + np.log(-np.expm1(-room / self.width)))
        return np.where(light > 1e-24, GREY * np.exp2((u - self.offset) / self.slope), 0.0)


# How ACES 2's tone scale goes from peak to peak. It has this very form, 1.15 = 2.3936 ln(2)^2 being its shoulder; the
# slope of its straight line is 1.15 at every peak. The light that reaches the peak is 128 at 100 cd/m2 and 384 more a
# decade (its published constants, from memory). Grey is fitted to the built-in transforms of OpenColorIO for 100, 500,
# 1000, 2000 and 4000 cd/m2; tests hold the curve within 1 % of them.
WHITE_PER_DECADE = 3.0
GREY_PER_DOUBLING, GREY_BENDS = 0.1382, 6.7e-5


def for_peak(
    grey: float, slope: float, shoulder: float, white: float, toe: float, nits: float, unit: float
) -> ToneCurve:
    """The curve of one look on a display of ``nits`` cd/m2: what is said at 100 cd/m2, carried to another peak.

    Grey rises by some 14 % a doubling, the light that reaches the peak triples and more a decade, the slope of the
    straight line stays, and so does the toe in cd/m2: so the tone scale of ACES 2 goes from peak to peak.

    Parameters
    ----------
    grey, toe
        Display light at 100 cd/m2, of that white.
    nits
        Peak in cd/m2, 50 or more.
    unit
        cd/m2 of display light 1.
    """
    scale = 100.0 / unit
    first = ToneCurve(grey * scale, slope, shoulder, white, toe * scale, scale)
    if nits == 100.0:
        return first
    decades = float(np.log10(nits / 100.0))
    doublings = decades / float(np.log10(2.0))
    rise = 1.0 + doublings * (GREY_PER_DOUBLING - GREY_BENDS * abs(doublings) ** 3)
    growth = WHITE_PER_DECADE * decades
    more = float(np.log2(1.0 + growth)) if growth > 0.0 else growth / LN2
    return ToneCurve(grey * scale * rise, slope, shoulder, white + more, toe * scale, nits / unit, first.slope)
