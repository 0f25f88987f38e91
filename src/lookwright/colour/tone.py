"""The tone curve of the plain rendering: scene light to display light, one channel."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

GREY = 0.18
LN2 = float(np.log(2.0))


class ToneCurve:
    """Scene light to display light, one channel: a straight line in log-log with a shoulder and a toe.

    With x in stops from 18 % grey, the shoulder form is log2(y / grey) = a - w ln(1 + exp((a - s x - o) / w)):
    slope s below, a ceiling a above, joined over about w stops. s and o are solved in closed form so that grey
    lands on ``grey`` with exactly the asked slope; a is solved (bisection, once) so that ``white`` stops over grey
    give ``peak``. The toe is y^2 / (y + toe), which bends the dark end down; grey and slope are corrected for it.
    Odd for negative light, so it is finite, continuous and rising everywhere; invertible in closed form.
    """

    def __init__(self, grey: float, slope: float, shoulder: float, white: float, toe: float, peak: float) -> None:
        self.toe, self.width = toe, shoulder * LN2
        # The toe maps y to z = y^2/(y+k); find the y that gives grey, and the slope it costs there.
        self.grey = self._untoe(np.array(grey)).item()
        toe_slope = (self.grey + 2.0 * toe) / (self.grey + toe)
        peak_before = self._untoe(np.array(peak)).item()
        needed = np.log2(peak_before / self.grey)
        wanted = slope / toe_slope

        def at_white(ceiling: float) -> float:
            s, o = self._straight(ceiling, wanted)
            return float(self._bend(np.array(s * white + o), ceiling))

        low, high = needed, needed + 40.0
        if at_white(high) < needed:  # so flat a line never reaches the peak: leave it as bright as it gets
            low = high
        for _ in range(80):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if at_white(middle) < needed else (low, middle)
        self.ceiling = high
        self.slope, self.offset = self._straight(high, wanted)

    def _straight(self, ceiling: float, slope: float) -> tuple[float, float]:
        gap = float(np.log(np.expm1(ceiling / self.width))) if ceiling / self.width < 700 else ceiling / self.width
        return slope / -np.expm1(-ceiling / self.width), ceiling - self.width * gap

    def _bend(self, u: Array, ceiling: float) -> Array:
        return ceiling - self.width * np.logaddexp(0.0, (ceiling - u) / self.width)

    def _untoe(self, z: Array) -> Array:
        return 0.5 * (z + np.sqrt(z * z + 4.0 * self.toe * z))

    def __call__(self, light: Array) -> Array:
        """Display light of scene light, any shape."""
        size = np.maximum(np.abs(light), 1e-12)
        y = self.grey * np.exp2(self._bend(self.slope * np.log2(size / GREY) + self.offset, self.ceiling))
        if self.toe:
            y = y * y / (y + self.toe)
        return np.copysign(y, light)

    def inverse(self, light: Array) -> Array:
        """Scene light that gives this display light; light at or over the ceiling gives the last stop below it."""
        y = np.maximum(self._untoe(np.abs(light)), 1e-30)
        room = self.ceiling - np.log2(y / self.grey)
        room = np.maximum(room, 1e-6)
        u = self.ceiling - self.width * (room / self.width + np.log(-np.expm1(-room / self.width)))
        x = GREY * np.exp2((u - self.offset) / self.slope)
        return np.copysign(np.where(np.abs(light) < 1e-24, 0.0, x), light)
