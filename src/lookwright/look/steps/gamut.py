"""Fitting display light into what the output can show, at constant Oklab hue."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.spaces.oklab import LAB_TO_LMS, light_to_oklab, lms_matrix, oklab_to_light
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES

from .base import Context, Domain, Op, Step
from .params import Param

_POWER = 1.5
"""Curvature of the knee: low enough to be gentle, with two continuous derivatives at the threshold."""

_FAR = 16.0
"""No colour this many times inside its boundary needs to know more exactly where that is."""


def _fits(rgb: Array, peak: float) -> NDArray[np.bool_]:
    """Whether each of the (3, n) colours lies in 0..peak."""
    return (rgb.min(axis=0) >= 0.0) & (rgb.max(axis=0) <= peak)


def boundary(lab: Array, to_rgb: Array, peak: float) -> Array:
    """How far (as a factor of chroma) each Oklab colour may go before it leaves 0..peak in the output primaries.

    At fixed lightness and hue each output channel is a cubic of the factor k. The first k at which any channel
    reaches 0 or ``peak`` is bracketed between its turning points and a coarse grid, halved 24 times, and met by
    two Newton steps. The turning points matter: near deep blue the way out leads through a notch a grid would step
    over. The Newton steps matter too: where halving ends depends on the last digit of the colour, and releases of
    numpy differ in that digit; a LUT baked with either must have the same bytes.
    ``lab`` (n, 3) with 0 < L < the lightness of peak white; ``to_rgb`` (3, 3) LMS to output RGB.
    """
    # Channels along the first axis: numpy's min and max over a last axis of three cost more than all the rest.
    base = LAB_TO_LMS[:, :1] * lab[:, 0]
    direction = LAB_TO_LMS[:, 1:] @ lab[:, 1:].T

    def inside(k: Array) -> NDArray[np.bool_]:
        return _fits(to_rgb @ (base + k * direction) ** 3, peak)

    tried = [np.full(len(lab), k) for k in (0.25, 0.75, 1.25, 2.5)]
    a, b, c = to_rgb @ direction**3, to_rgb @ (direction**2 * base), to_rgb @ (direction * base**2)
    half = np.sqrt(np.maximum(b * b - a * c, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):  # no turning point: a root far out, or none
        roots = np.stack([(-b - half) / a, (-b + half) / a])
    roots = np.where((roots > 0.0) & (roots < _FAR), roots, 0.0)
    tried += list(roots.reshape(6, -1))
    fits = [inside(k) for k in tried]
    high = np.full(len(lab), _FAR)
    for k, fit in zip(tried, fits, strict=True):
        high = np.where(fit, high, np.minimum(high, k))
    low = np.zeros(len(lab))
    for k in tried:
        low = np.where(k < high, np.maximum(low, k), low)
    for _ in range(24):
        middle = 0.5 * (low + high)
        fit = inside(middle)
        low, high = np.where(fit, middle, low), np.where(fit, high, middle)
    every = np.arange(len(lab))
    out = to_rgb @ (base + high * direction) ** 3
    channel = np.argmax(np.maximum(-out, out - peak), axis=0)
    bound = np.where(out[channel, every] < 0.5 * peak, 0.0, peak)
    a, b, c, d = (v[channel, every] for v in (a, b, c, to_rgb @ base**3))
    k = low
    for _ in range(2):
        value, slope = ((a * k + 3.0 * b) * k + 3.0 * c) * k + d - bound, 3.0 * ((a * k + 2.0 * b) * k + c)
        with np.errstate(divide="ignore", invalid="ignore"):  # a turning point: stay
            step = np.where(slope != 0.0, value / slope, 0.0)
        k = np.clip(k - step, low, high)
    return k


def knee(ratio: Array, threshold: float, limit: float, power: float = _POWER) -> Array:
    """Ratios up to ``threshold`` unchanged, ``limit`` to 1, more held at 1; smooth between.

    The parametric curve of the published ACES 1.3 reference gamut compression (equations 2 to 5), used here on
    the share of chroma instead of a distance in RGB. The published compression has ``power`` 1.2.
    """
    t, p = threshold, power
    scale = (limit - t) / (((1.0 - t) / (limit - t)) ** -p - 1.0) ** (1.0 / p)
    over = np.maximum(ratio - t, 0.0) / scale
    return np.minimum(np.where(ratio > t, t + scale * over / (1.0 + over**p) ** (1.0 / p), ratio), 1.0)


class Gamut(Step):
    """Compresses chroma toward neutral at constant Oklab hue and lightness, with a smooth knee.

    ``render`` and ``print`` fit their light themselves: behind one of them this step has nothing left to do and is left
    out. It is for what else makes display light, such as a ``lut``.

    What cannot be shown is still cut: lightness over that of peak white becomes white, lightness below zero black, and
    colours more than ``limit`` times the boundary away lie on it side by side.
    """

    takes: ClassVar[Domain] = "display"
    gives: ClassVar[Domain] = "display"
    summary: ClassVar[str] = "fits colours into the output's primaries with a smooth knee, at constant Oklab hue"
    rendering: ClassVar[bool] = True

    kind: Literal["gamut"] = "gamut"
    threshold: float = Param(
        0.75,
        low=0.3,
        high=0.98,
        neutral=None,
        unit="of the boundary",
        soft=(0.6, 0.9),
        tunable=False,
        help="colours nearer to neutral than this are left alone",
        main=True,
    )
    limit: float = Param(
        2.0,
        low=1.1,
        high=8.0,
        neutral=None,
        unit="of the boundary",
        soft=(1.3, 3.0),
        tunable=False,
        help="colours this far out land on the boundary; those beyond are held there",
        main=True,
    )

    def prepare(self, context: Context) -> Op:
        target = context.output.primaries.name
        peak = context.output.encoding.peak
        to_rgb = matrix(DISPLAY_PRIMARIES, target) @ np.linalg.inv(lms_matrix(DISPLAY_PRIMARIES))
        white = float(np.cbrt(peak))

        def apply(x: Array) -> Array:
            flat = x.reshape(-1, 3)
            lab = light_to_oklab(flat)
            lightness = np.clip(lab[:, 0], 0.0, white)
            out = lab.copy()
            out[:, 0] = lightness
            # Colours past the threshold leave the gamut when pushed out by 1/threshold. Where the boundary is
            # concave (deep blues) a colour outside may come in again when pushed, so the colour itself counts too.
            todo = lab[:, 0] != lightness
            for push in (1.0, 1.0 / self.threshold):
                todo |= ~_fits(to_rgb @ (LAB_TO_LMS * [1.0, push, push] @ out.T) ** 3, peak)
            result = flat.copy()  # colours inside the threshold pass bit for bit
            if todo.any():
                some = out[todo]
                chroma = np.hypot(some[:, 1], some[:, 2])
                room = np.zeros(len(some))
                able = (some[:, 0] > 1e-9) & (some[:, 0] < white * (1.0 - 1e-9)) & (chroma > 1e-12)
                room[able] = boundary(some[able], to_rgb, peak)
                ratio = 1.0 / np.maximum(room, 1e-9)
                factor = np.where(room > 0.0, knee(ratio, self.threshold, self.limit) * room, 0.0)
                some[:, 1:] *= factor[:, None]
                result[todo] = oklab_to_light(some)
            return result.reshape(x.shape)

        return Op("gamut", apply)

    def in_words(self) -> str:
        return (
            f"fits colours into the output's primaries, from {self.threshold * 100:.0f} % of the way to the boundary on"
        )
