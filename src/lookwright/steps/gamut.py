"""Fitting display light into what the output can show, smoothly and at constant hue."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from ..spaces.oklab import LAB_TO_LMS, light_to_oklab, lms_matrix, oklab_to_light
from ..spaces.primaries import matrix
from ..spaces.signal import DISPLAY_PRIMARIES
from .base import Array, Context, Domain, Op, Step
from .params import Param

_POWER = 1.5
"""Curvature of the knee: low enough to be gentle, with two continuous derivatives at the threshold."""


def boundary(lab: Array, to_rgb: Array, peak: float) -> Array:
    """How far (as a factor of chroma) each Oklab colour may go before it leaves 0..peak in the output primaries.

    At fixed lightness and hue each output channel is a cubic of the factor k; the first k at which any channel
    reaches 0 or ``peak`` is found by bracketing on a geometric grid, then 24 halvings (1e-7 of the bracket).
    ``lab`` (n, 3) with 0 < L < the lightness of peak white; ``to_rgb`` (3, 3) LMS to output RGB.
    """
    base = lab[:, :1] * LAB_TO_LMS[:, 0]
    direction = lab[:, 1:] @ LAB_TO_LMS[:, 1:].T

    def inside(k: Array) -> NDArray[np.bool_]:
        rgb = (base + k[:, None] * direction) ** 3 @ to_rgb.T
        return (rgb.min(axis=1) >= 0.0) & (rgb.max(axis=1) <= peak)

    low = np.zeros(len(lab))
    high = np.full(len(lab), 16.0)
    for k in (0.0625, 0.25, 0.5, 0.75, 1.0, 1.5, 2.5, 5.0):
        fits = inside(np.full(len(lab), k)) & (low >= 0) & (high > k)
        # The first failure closes the bracket; later successes (a concave gamut) do not reopen it.
        low = np.where(fits, k, low)
        high = np.where(~fits & (high > k), k, high)
    for _ in range(24):
        middle = 0.5 * (low + high)
        fits = inside(middle)
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return low


def knee(ratio: Array, threshold: float, limit: float) -> Array:
    """Ratios up to ``threshold`` unchanged, ``limit`` to 1, more held at 1; smooth between.

    The parametric curve of the published ACES 1.3 reference gamut compression (equations 2 to 5), used here on
    the share of chroma instead of a distance in RGB.
    """
    t, p = threshold, _POWER
    scale = (limit - t) / (((1.0 - t) / (limit - t)) ** -p - 1.0) ** (1.0 / p)
    over = np.maximum(ratio - t, 0.0) / scale
    return np.minimum(np.where(ratio > t, t + scale * over / (1.0 + over**p) ** (1.0 / p), ratio), 1.0)


class Gamut(Step):
    """Compresses chroma toward neutral at constant Oklab hue and lightness, so that nothing clips hard."""

    takes: ClassVar[Domain] = "display"
    gives: ClassVar[Domain] = "display"
    summary: ClassVar[str] = "fits colours into the output's primaries, smoothly, at constant hue"
    rendering: ClassVar[bool] = True

    kind: Literal["gamut"] = "gamut"
    threshold: float = Param(
        0.75, low=0.3, high=0.98, neutral=None, unit="of the boundary", soft=(0.6, 0.9), tunable=False,
        help="colours nearer to neutral than this are left alone",
    )  # fmt: skip
    limit: float = Param(
        2.0, low=1.1, high=8.0, neutral=None, unit="of the boundary", soft=(1.3, 3.0), tunable=False,
        help="colours this far out land on the boundary; those beyond are held there",
    )  # fmt: skip

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
            # Only colours that leave the gamut when pushed out by 1/threshold can be past the threshold.
            pushed = lab.copy()
            pushed[:, 0] = lightness
            pushed[:, 1:] /= self.threshold
            rgb = (pushed @ LAB_TO_LMS.T) ** 3 @ to_rgb.T
            todo = (rgb.min(axis=1) < 0.0) | (rgb.max(axis=1) > peak)
            if todo.any():
                some = out[todo]
                chroma = np.hypot(some[:, 1], some[:, 2])
                room = np.zeros(len(some))
                able = (some[:, 0] > 1e-9) & (some[:, 0] < white * (1.0 - 1e-9)) & (chroma > 1e-12)
                room[able] = boundary(some[able], to_rgb, peak)
                ratio = 1.0 / np.maximum(room, 1e-9)
                factor = np.where(room > 0.0, knee(ratio, self.threshold, self.limit) * room, 0.0)
                some[:, 1:] *= factor[:, None]
                out[todo] = some
            return oklab_to_light(out).reshape(x.shape)

        return Op("gamut", apply)

    def in_words(self) -> str:
        return (
            f"fits colours into the output's primaries, from {self.threshold * 100:.0f} % of the way to the boundary on"
        )
