"""Density, transmittance and the characteristic curve of a film, D against log10 exposure.

Definitions: ISO 5-1:2009 (D = -log10 T). The curve is the textbook shape of Hurter and
Driffield (1890): a straight line of slope gamma between a toe and a shoulder; here both
bends are softplus functions (the integral of a logistic), so that the curve has
derivatives of every order and never goes flat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array

STOP = float(np.log10(2.0))
"""One stop in log10 exposure, 0.30103: a factor of two of light."""


def transmittance(density: ArrayLike) -> Array:
    """T = 10^-D (ISO 5-1). Any shape; negative densities give more than 1; NaN stays NaN."""
    return np.power(10.0, -np.asarray(density, np.float64))


def density(transmittance: ArrayLike) -> Array:
    """D = -log10 T (ISO 5-1). Any shape; T = 0 gives infinity, T < 0 gives NaN (no warning)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return -np.log10(np.asarray(transmittance, np.float64))


def softplus(u: ArrayLike) -> Array:
    """ln(1 + e^u) without overflow: 0 far below, u far above, smooth between."""
    u = np.asarray(u, np.float64)
    return np.maximum(u, 0.0) + np.log1p(np.exp(-np.abs(u)))


def _logistic(u: Array) -> Array:
    """1 / (1 + e^-u) without overflow: the derivative of :func:`softplus`."""
    e = np.exp(-np.abs(u))
    return np.where(u >= 0.0, 1.0, e) / (1.0 + e)


@dataclass(frozen=True)
class Curve:
    """A characteristic curve D(x), x = log10 exposure.

    The toe bends a straight line out of the base, the shoulder bends that under the top:

    y = g t sp((x - foot) / t),   D = base + k h [sp(span / h) - sp((span - y) / h)],

    with sp = softplus, t = toe * span / g, h = shoulder * span, k = span / (h sp(span / h)).

    Parameters
    ----------
    gamma
        Slope at mid-scale, the point where y is half the span (density per log10 exposure, > 0).
    span
        Density of the top above the base (> 0): D runs from ``base`` to ``base + span``.
    foot
        log10 exposure at which the prolonged straight line meets the base density.
    toe, shoulder
        Softness of the two bends as shares of the latitude (0.005 to 0.25).
    base
        Density without exposure (0: densities are counted above base).

    Notes
    -----
    The difference of two softplus terms side by side, g [t sp((x - foot) / t) - s sp((x - top) / s)], looks the
    same for narrow bends, but when the two differ in softness it overshoots and comes back: it has a
    negative slope somewhere. One bend inside the other cannot: its slope is a product of positive factors.

    Soft bends shave a little off the slope between them. g is set so that the mid-scale slope is
    ``gamma`` exactly, whatever the softness: gamma = g k (1 - e^(-1 / (2 toe))) logistic(1 / (2 shoulder)).
    """

    gamma: float
    span: float
    foot: float = 0.0
    toe: float = 0.1
    shoulder: float = 0.1
    base: float = 0.0

    @cached_property
    def _scale(self) -> float:
        """k: makes the top exactly base + span."""
        return float(1.0 / (self.shoulder * softplus(1.0 / self.shoulder)))

    @cached_property
    def inner_slope(self) -> float:
        """g: slope the line would have without its bends."""
        toe = -np.expm1(-0.5 / self.toe)
        shoulder = 1.0 / (1.0 + np.exp(-0.5 / self.shoulder))
        return float(self.gamma / (self._scale * toe * shoulder))

    @property
    def latitude(self) -> float:
        """log10 exposure from foot to top of the prolonged straight line."""
        return self.span / self.inner_slope

    @property
    def middle(self) -> float:
        """log10 exposure at mid-scale."""
        return self.foot + self.toe * self.latitude * float(np.log(np.expm1(0.5 / self.toe)))

    def __call__(self, x: ArrayLike) -> Array:
        """Density of log10 exposure ``x`` (any shape); -inf gives the base, NaN stays NaN."""
        t, h = self.toe * self.latitude, self.shoulder * self.span
        line = softplus((np.asarray(x, np.float64) - self.foot) * (1.0 / t))
        # (span - y) / h, with y = g t line
        bent = softplus(1.0 / self.shoulder - (self.toe / self.shoulder) * line)
        return (self.base + self.span) - (self._scale * h) * bent

    def slope(self, x: ArrayLike) -> Array:
        """dD/dx at log10 exposure ``x``: positive for every finite x (until it underflows)."""
        u = (np.asarray(x, np.float64) - self.foot) / (self.toe * self.latitude)
        bent = _logistic(1.0 / self.shoulder - (self.toe / self.shoulder) * softplus(u))
        return self.inner_slope * self._scale * _logistic(u) * bent

    def inverse(self, target: float) -> float:
        """log10 exposure that gives density ``target``: the two bends undone one after the other.

        Raises ``ValueError`` unless base < target < base + span.
        """
        if not self.base < target < self.base + self.span:
            raise ValueError(f"density {target} is outside {self.base}..{self.base + self.span}")
        bent = (self.base + self.span - target) / (self._scale * self.shoulder * self.span)
        line = (1.0 / self.shoulder - _inverse_softplus(bent)) * (self.shoulder / self.toe)
        # Next to the base the difference may round to nothing.
        return self.foot + self.toe * self.latitude * _inverse_softplus(max(line, math.ulp(0.0)))


def _inverse_softplus(value: float) -> float:
    """ln(e^value - 1) for value > 0."""
    return value + math.log(-math.expm1(-value))
