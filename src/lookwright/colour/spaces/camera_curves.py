"""Camera log curves, PQ and HLG, each with the constants that its document prints.

Written out here because importing the library that has them too takes longer than a whole bake. The tests hold every
one of them against that library (``tests/oracle``), OpenColorIO and the printed tables. All functions take and give
float64 of any shape (HLG: (..., 3)), in reflectance or display light and in code value over the full range; finite in,
finite out. The unused branch of a curve is kept where its logarithm or power exists.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from lookwright.arrays import Array

_TINY = 1e-300


@dataclass(frozen=True)
class LogCurve:
    """y = c log10(a x + b) + d from a cut up, and the straight line y = e x + f below."""

    a: float
    b: float
    c: float
    d: float
    e: float
    f: float
    cut: float
    """Light where the parts meet."""
    cut_code: float
    """Code where they meet, as the document prints it or from its own formula."""
    line_to_cut: bool = False
    """Whether the cut itself belongs to the straight line."""

    def encode(self, light: Array) -> Array:
        """Light to code."""
        x = np.asarray(light, np.float64)
        low = x <= self.cut if self.line_to_cut else x < self.cut
        log = self.c * np.log10(np.maximum(self.a * x + self.b, _TINY)) + self.d
        return np.where(low, self.e * x + self.f, log)

    def decode(self, code: Array) -> Array:
        """Code to light."""
        y = np.asarray(code, np.float64)
        low = y <= self.cut_code if self.line_to_cut else y < self.cut_code
        power = np.power(10.0, np.minimum((y - self.d) / self.c, 300.0))
        return np.where(low, (y - self.f) / self.e, (power - self.b) / self.a)


@dataclass(frozen=True)
class ParabolaCurve:
    """y = gamma log2(x + beta) + delta from r_t up, sigma (x - r_0)^2 down to r_0, and 0 below."""

    r_0: float
    r_t: float
    sigma: float
    beta: float
    gamma: float
    delta: float

    def encode(self, light: Array) -> Array:
        """Light to code, never below 0."""
        x = np.asarray(light, np.float64)
        log = self.gamma * np.log2(np.maximum(x, self.r_t) + self.beta) + self.delta
        return np.where(x >= self.r_t, log, self.sigma * (np.maximum(x, self.r_0) - self.r_0) ** 2)

    def decode(self, code: Array) -> Array:
        """Code to light; r_0 below code 0."""
        y = np.asarray(code, np.float64)
        cut = self.sigma * (self.r_t - self.r_0) ** 2
        high = np.exp2(np.minimum((y - self.delta) / self.gamma, 1000.0)) - self.beta
        return np.where(y >= cut, high, np.sqrt(np.maximum(y, 0.0) / self.sigma) + self.r_0)


def _s_log2() -> LogCurve:
    # The curve is of IRE, which stands in legal range of 10 bits; 155/219 and 0.9 bring reflectance to its scale.
    span, black, scale = (940.0 - 64.0) / 1023.0, 64.0 / 1023.0, 155.0 / 219.0 / 0.9
    c, d = 0.432699 * span, (0.616596 + 0.03) * span + black
    e, f = 5.0 * scale * span, 0.030001222851889303 * span + black
    return LogCurve(scale, 0.037584, c, d, e, f, 0.0, c * math.log10(0.037584) + d)


def _log_c4() -> LogCurve:
    a, b, c = (2.0**18 - 16.0) / 117.45, (1023.0 - 95.0) / 1023.0, 95.0 / 1023.0
    s = 7.0 * math.log(2.0) * 2.0 ** (7.0 - 14.0 * c / b) / (a * b)
    t = (2.0 ** (14.0 * (-c / b) + 6.0) - 64.0) / a
    return LogCurve(a, 64.0, b / 14.0 * math.log2(10.0), c - 6.0 * b / 14.0, 1.0 / s, -t / s, t, 0.0)


S_LOG3 = LogCurve(
    1.0 / 0.19,
    0.01 / 0.19,
    261.5 / 1023.0,
    420.0 / 1023.0,
    (171.2102946929 - 95.0) / 0.01125 / 1023.0,
    95.0 / 1023.0,
    0.01125,
    171.2102946929 / 1023.0,
)
V_LOG = LogCurve(1.0, 0.00873, 0.241514, 0.598206, 5.6, 0.125, 0.01, 0.181)
LOG_C3 = LogCurve(
    5.555556,
    0.052272,
    0.247190,
    0.385537,
    5.367655,
    0.092809,
    0.010591,
    5.367655 * 0.010591 + 0.092809,
    line_to_cut=True,
)
LOG_3G10 = LogCurve(
    155.975327, 1.0 + 0.01 * 155.975327, 0.224282, 0.0, 15.1927, 0.01 * 15.1927, cut=-0.01, cut_code=0.0
)
F_LOG = LogCurve(0.555556, 0.009468, 0.344676, 0.790453, 8.735631, 0.092864, 0.00089, 0.100537775223865)
F_LOG2 = LogCurve(5.555556, 0.064829, 0.245281, 0.384316, 8.799461, 0.092864, 0.000889, 0.100686685370811)
D_LOG = LogCurve(0.9892, 0.0108, 0.256663, 0.584555, 6.025, 0.0929, 0.0078, 0.14, line_to_cut=True)
D_LOG_BACK = replace(D_LOG, c=1.0 / 3.89616, d=2.27752 / 3.89616)
"""The way back has rounded constants of its own in the document."""
L_LOG = LogCurve(1.3, 0.0115, 0.27, 0.6, 8.0, 0.09, 0.006, 0.138, line_to_cut=True)
APPLE_LOG = ParabolaCurve(-0.05641088, 0.01, 47.28711236, 0.00964052, 0.08550479, 0.69336945)
MI_LOG = ParabolaCurve(-0.09023729, 0.01974185, 18.10531998, 0.01384578, 0.09271529, 0.6729185)
S_LOG2 = _s_log2()
LOG_C4 = _log_c4()


def n_log_encode(light: Array) -> Array:
    """N-Log Specification 1.0.0: a cube root below 0.328, a natural logarithm above."""
    x = np.asarray(light, np.float64)
    log = 150.0 / 1023.0 * np.log(np.maximum(x, 0.328)) + 619.0 / 1023.0
    return np.where(x < 0.328, 650.0 / 1023.0 * np.cbrt(x + 0.0075), log)


def n_log_decode(code: Array) -> Array:
    """The inverse, with code 452 of 10 bits between the parts."""
    y = np.asarray(code, np.float64)
    high = np.exp(np.minimum((y - 619.0 / 1023.0) / (150.0 / 1023.0), 700.0))
    return np.where(y < 452.0 / 1023.0, (y / (650.0 / 1023.0)) ** 3 - 0.0075, high)


# ST 2084 and BT.2100-3 table 4.
_M1, _M2 = 2610.0 / 16384.0, 2523.0 / 4096.0 * 128.0
_C1, _C2, _C3 = 3424.0 / 4096.0, 2413.0 / 4096.0 * 32.0, 2392.0 / 4096.0 * 32.0


def pq_to_nits(signal: Array) -> Array:
    """PQ signal in 0..1 to cd/m2; BT.2100-3 table 4."""
    power = np.power(np.asarray(signal, np.float64), 1.0 / _M2)
    return 10000.0 * np.power(np.maximum(power - _C1, 0.0) / (_C2 - _C3 * power), 1.0 / _M1)


def nits_to_pq(nits: Array) -> Array:
    """cd/m2 in 0..10000 to PQ signal; BT.2100-3 table 4."""
    power = np.power(np.asarray(nits, np.float64) / 10000.0, _M1)
    return np.power((_C1 + _C2 * power) / (_C3 * power + 1.0), _M2)


# BT.2100-3 table 5.
_HLG_A = 0.17883277
_HLG_B = 1.0 - 4.0 * _HLG_A
_HLG_C = 0.5 - _HLG_A * math.log(4.0 * _HLG_A)
_HLG_WEIGHTS = np.array([0.2627, 0.6780, 0.0593])
HLG_GAMMA = 1.2
"""System gamma at 1000 cd/m2."""


def hlg_to_nits(signal: Array, peak: float) -> Array:
    """(..., 3) HLG signal in 0..1 to cd/m2 on a display of that peak with black at 0; BT.2100-3 table 5."""
    e = np.asarray(signal, np.float64)
    scene = np.where(e <= 0.5, (2.0 * e) ** 2, np.exp((e - _HLG_C) / _HLG_A) + _HLG_B) / 12.0
    luminance = np.sum(_HLG_WEIGHTS * scene, axis=-1, keepdims=True)
    return peak * scene * np.power(luminance, HLG_GAMMA - 1.0)


def nits_to_hlg(nits: Array, peak: float) -> Array:
    """(..., 3) cd/m2, not negative, to HLG signal; the inverse. Black is 0."""
    light = np.asarray(nits, np.float64) / peak
    luminance = np.sum(_HLG_WEIGHTS * light, axis=-1, keepdims=True)
    lit = luminance > 0.0
    gain = np.where(lit, np.power(np.where(lit, luminance, 1.0), (1.0 - HLG_GAMMA) / HLG_GAMMA), 0.0)
    scene = 12.0 * gain * light
    return np.where(scene <= 1.0, 0.5 * np.sqrt(scene), _HLG_A * np.log(np.maximum(scene - _HLG_B, _HLG_A)) + _HLG_C)


CURVES = {
    "S-Log3": (S_LOG3.decode, S_LOG3.encode),
    "S-Log2": (S_LOG2.decode, S_LOG2.encode),
    "V-Log": (V_LOG.decode, V_LOG.encode),
    "LogC3": (LOG_C3.decode, LOG_C3.encode),
    "LogC4": (LOG_C4.decode, LOG_C4.encode),
    "Log3G10": (LOG_3G10.decode, LOG_3G10.encode),
    "F-Log": (F_LOG.decode, F_LOG.encode),
    "F-Log2": (F_LOG2.decode, F_LOG2.encode),
    "N-Log": (n_log_decode, n_log_encode),
    "D-Log": (D_LOG_BACK.decode, D_LOG.encode),
    "L-Log": (L_LOG.decode, L_LOG.encode),
    "Apple Log": (APPLE_LOG.decode, APPLE_LOG.encode),
    "Mi-Log": (MI_LOG.decode, MI_LOG.encode),
}
"""Decoding and encoding by the names of :mod:`.encodings`."""
