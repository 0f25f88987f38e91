"""What an output can show at a given brightness and hue, and the knee that keeps colours within it.

Brightness is the cube of B = L w(s): Oklab lightness times a weight that falls a little with saturation s = C / L.
Hue is a vector q (3, n): root cone signals are L (1 + s q). Channels of the output are then B^3 / w^3 M (1 + s q)^3.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.rendering.hue import roots_of
from lookwright.colour.spaces.oklab import lms_matrix
from lookwright.colour.spaces.primaries import matrix, primaries
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES

SLACK = 0.0095
"""Negative light that counts as none, as a share of brightness. At constant Oklab hue the blue of BT.709 lies behind a
sliver of negative light; without slack there is no way to it."""

POWER = 1.5
"""Curvature of the knee: gentle, with two continuous derivatives at the threshold."""

WEIGHT, TURN, MOST = 0.1, 0.1, 2.0
"""w(s) = 1 - WEIGHT s^2 / (s + TURN), s held at MOST. With no weight reds bleach early, with .35 violets go dark."""

WIDEST = 1.6
"""Saturation beyond any that a display has."""
HALVINGS, STEPS = 7, 4


def cubed(x: Array) -> Array:
    """x^3: numpy's ** takes ten times as long."""
    return x * x * x


def _summed(x: Array) -> Array:
    """The sum (n,) of three rows (3, n)."""
    return x[0] + x[1] + x[2]


def _largest(x: Array) -> NDArray[np.intp]:
    """Which of three rows (3, n) is the largest, the first of equals: argmax along so short an axis is slow."""
    later = np.maximum(x[1], x[2])
    return np.where(x[0] >= later, 0, np.where(x[1] >= x[2], 1, 2))


def _of(x: Array, row: NDArray[np.intp]) -> Array:
    """In each column of (3, n) the value of that row."""
    return np.where(row == 0, x[0], np.where(row == 1, x[1], x[2]))


def weight(s: Array) -> Array:
    """w(s): brightness of a colour of saturation s, as a share of its Oklab lightness."""
    s = np.minimum(s, MOST)
    return 1.0 - WEIGHT * s * s / (s + TURN)


def weight_slope(s: Array) -> Array:
    """dw / ds."""
    return np.where(s < MOST, -WEIGHT * s * (s + 2.0 * TURN) / (s + TURN) ** 2, 0.0)


class Volume:
    """The colours of an output: three primaries, each from no light to the peak.

    Parameters
    ----------
    name
        The primaries.
    peak
        Light of reference white.
    system_gamma
        Of an output whose peak depends on luminance: HLG's 1.2 (BT.2100), where a channel may reach
        peak (Y / peak)^(1 - 1/gamma). 1 for all others.
    """

    def __init__(self, name: str, peak: float, system_gamma: float = 1.0) -> None:
        self.peak = peak
        self.to_display = matrix(name, DISPLAY_PRIMARIES)
        self.to_lms = lms_matrix(DISPLAY_PRIMARIES)
        self.to_rgb = np.linalg.inv(self.to_display) @ np.linalg.inv(self.to_lms)
        self._yield = 1.0 - 1.0 / system_gamma
        self._luminance = np.asarray(primaries(name).luminance, np.float64)
        self._within, self._rise = self._surely()

    def light(self, q: Array, s: Array, shown: Array) -> Array:
        """Display light (3, n), linear BT.2020, within the volume, of hue, saturation and brightness cubed."""
        root = (1.0 + q * s) * (np.cbrt(shown) / weight(s))
        rgb = self.to_rgb @ cubed(root)
        np.clip(rgb, 0.0, self.peak, out=rgb)
        return self.to_display @ rgb

    def _tops(self, rgb: Array, w3: Array, ratio: Array) -> Array:
        """The most a channel may have, of rgb = M (1 + s q)^3 (3, n); ``ratio`` is peak / brightness cubed."""
        if not self._yield:
            return ratio * w3
        y = np.maximum(self._luminance @ rgb, 1e-12)
        return ratio * w3 * (y / (w3 * ratio)) ** self._yield

    def fits(self, q: Array, s: Array, ratio: Array) -> NDArray[np.bool_]:
        """Whether the output has hue ``q`` (3, n) at saturation ``s`` (n,)."""
        rgb = self.to_rgb @ cubed(1.0 + q * s)
        w3 = cubed(weight(s))
        return (rgb.min(axis=0) >= -SLACK * w3) & (rgb.max(axis=0) <= self._tops(rgb, w3, ratio))

    def crowded(self, q: Array, s: Array, shown: Array, threshold: float) -> tuple[NDArray[np.intp], Array]:
        """Places of the colours past ``threshold`` of their room, and peak / brightness cubed of each.

        A colour is past it when it leaves the output as it is pushed out by 1 / threshold. Where the boundary is
        concave (deep blues) one outside may come in again when pushed, so the colour itself counts too.
        """
        pushed = s * (1.0 / threshold)
        top = self.peak if not self._yield else self.peak * (0.5 * np.maximum(shown, 0.0) / self.peak) ** self._yield
        near = np.flatnonzero((pushed > self._within) | (shown * (1.0 + self._rise * pushed) > top))
        ratio = self.peak / np.maximum(shown[near], 1e-30)
        q, s = q[:, near], s[near]
        out = ~(self.fits(q, pushed[near], ratio) & self.fits(q, s, ratio))
        return near[out], ratio[out]

    def room(self, q: Array, ratio: Array) -> Array:
        """The largest saturation (n,) up to which all light of hue ``q`` (3, n) can be shown at ``ratio``.

        The first s at which a channel reaches -SLACK or its top is bracketed by halving and met by Newton steps:
        halving ends at a number that depends on the last digit of the colour, and releases of numpy differ in that
        digit.
        """
        low, high = np.zeros(q.shape[1]), np.full(q.shape[1], WIDEST)
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            fit = self.fits(q, middle, ratio)
            low, high = np.where(fit, middle, low), np.where(fit, high, middle)
        return np.maximum(self._met(q, ratio, low, high), 1e-12)

    def _met(self, q: Array, ratio: Array, low: Array, high: Array) -> Array:
        rgb = self.to_rgb @ cubed(1.0 + q * high)
        w3 = cubed(weight(high))
        under, over = -rgb - SLACK * w3, rgb - self._tops(rgb, w3, ratio)
        channel = _largest(np.maximum(under, over))
        bottom = _of(under, channel) > _of(over, channel)
        rows, k = np.take(self.to_rgb.T, channel, axis=1), np.where(bottom, 0.0, self._yield)
        bound = np.where(bottom, -SLACK, ratio ** (1.0 - k))
        s = 0.5 * (low + high)
        for _ in range(STEPS):
            root = 1.0 + q * s
            w, dw = weight(s), weight_slope(s)
            square = root * root
            part = rows * square
            value, slope = _summed(part * root), 3.0 * _summed(np.multiply(part, q, out=part))
            if self._yield:
                lms = self._luminance @ self.to_rgb
                y, dy = np.maximum(lms @ cubed(root), 1e-12), 3.0 * (lms @ (square * q))
                top = bound * y**k * w ** (3.0 * (1.0 - k))
                value, slope = value - top, slope - top * (k * dy / y + 3.0 * (1.0 - k) * dw / w)
            else:
                value, slope = value - bound * cubed(w), slope - 3.0 * bound * w * w * dw
            step = np.divide(value, slope, out=np.zeros_like(s), where=slope != 0.0)
            s = np.clip(s - step, low, high)
        return s

    def fitted(self, q: Array, s: Array, shown: Array, threshold: float, limit: float) -> Array:
        """Display light (3, n) of hue, saturation and brightness cubed, with saturation brought into the volume.

        Colours ``limit`` times as far as their room land on the boundary.
        """
        todo, ratio = self.crowded(q, s, shown, threshold)
        if len(todo):
            room = self.room(q[:, todo], ratio)
            s = s.copy()
            s[todo] = room * knee(s[todo] / room, threshold, np.full(len(todo), limit))
        return self.light(q, s, shown)

    def _surely(self) -> tuple[float, float]:
        """A saturation that is inside at every hue where the peak is far, and how steeply channels rise up to it.

        Below the first, no channel of any hue is under zero; and none is over 1 + rise * saturation of the grey's.
        Found on 720 hues, with a margin of 5 %. For a quick look at the many colours far from any boundary.
        """
        hue = np.radians(np.arange(720) / 2.0)
        q = roots_of(np.stack([np.cos(hue), np.sin(hue)]))
        least = 0.95 * float(self.room(q, np.full(720, 1e9)).min())
        rise = 0.0
        for s in least * np.arange(1, 17) / 16.0:
            most = (self.to_rgb @ cubed(1.0 + q * s)).max(axis=0) / cubed(weight(np.full(720, s)))
            rise = max(rise, float(((most - 1.0) / s).max()))
        return least, 1.05 * rise


def knee(ratio: Array, threshold: float, limit: Array) -> Array:
    """Ratios up to ``threshold`` unchanged, ``limit`` (> 1, one for each) to 1, more held at 1; smooth between.

    The parametric curve of the published ACES 1.3 reference gamut compression (equations 2 to 5), there with power 1.2.
    """
    scale = _knee_scale(threshold, limit)
    over = np.maximum(ratio - threshold, 0.0) / scale
    bent = threshold + scale * over / (1.0 + over**POWER) ** (1.0 / POWER)
    return np.minimum(np.where(ratio > threshold, bent, ratio), 1.0)


def unknee(share: Array, threshold: float, limit: Array) -> Array:
    """The inverse of :func:`knee` for shares up to 1, which gives ``limit``."""
    scale = _knee_scale(threshold, limit)
    over = np.clip((share - threshold) / scale, 0.0, 1.0 - 1e-12)
    out = threshold + scale * over / (1.0 - over**POWER) ** (1.0 / POWER)
    return np.where(share > threshold, np.minimum(out, limit), share)


def _knee_scale(threshold: float, limit: Array) -> Array:
    reach = limit - threshold
    return reach / (((1.0 - threshold) / reach) ** -POWER - 1.0) ** (1.0 / POWER)
