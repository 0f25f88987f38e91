"""The skin line of a vectorscope, from the published definition of the I axis."""

from __future__ import annotations

import math

# Y' coefficients of BT.601-7 item 2.5.1, which SMPTE 170M shares.
_KR, _KB = 0.299, 0.114
# I = 0.7358 (R'-Y') - 0.2680 (B'-Y'), and the carrier's scaling U = 0.492111 (B'-Y'), V = 0.877283 (R'-Y'):
# SMPTE 170M, digits from memory.
_I_RED, _I_BLUE = 0.7358, -0.2680
_U, _V = 0.492111, 0.877283

SKIN_LINE_DEG = 123.0
"""Angle of the +I axis counter-clockwise from +(B'-Y'): the carrier is E_Q sin(wt + 33 deg) + E_I cos(wt + 33 deg)
(47 CFR 73.682(a)(20), from memory), and a cosine leads a sine by 90 degrees: 33 + 90. That it passes near skin of
every complexion is common practice; a vectorscope plots it as a straight line from the centre."""


def i_axis_deg() -> float:
    """The same angle from the matrix form of I: atan2 of its (R'-Y') and (B'-Y') parts on the V and U axes.

    A cross-check of :data:`SKIN_LINE_DEG` within rounding (122.996 degrees).
    """
    # I as a linear form on (U, V) is constant along Q; its gradient is the direction of I, since U, V are orthogonal
    # axes of the carrier.
    return math.degrees(math.atan2(_I_RED / _V, _I_BLUE / _U)) % 360.0


def i_axis_on_differences_deg(kr: float = 0.2126, kb: float = 0.0722) -> float:
    """Angle of that direction on a plot of Cb (right) and Cr (up), which scales the two differences otherwise.

    Default: BT.709's coefficients. The axis is the one of the analogue system, carried over at equal (B'-Y') and
    (R'-Y'); a 123 degree line on such a plot is therefore a convention, some 10 degrees from the I axis, and nearer
    to measured skin than the exact axis is.
    """
    angle = math.radians(SKIN_LINE_DEG)
    cb = math.cos(angle) / _U / (2.0 * (1.0 - kb))
    cr = math.sin(angle) / _V / (2.0 * (1.0 - kr))
    return math.degrees(math.atan2(cr, cb)) % 360.0


def difference_angle_deg(red: float, green: float, blue: float, kr: float = 0.2126, kb: float = 0.0722) -> float:
    """Angle of an R'G'B' colour on a plot of Cb and Cr, 0..360, counter-clockwise from +Cb."""
    luma = kr * red + (1.0 - kr - kb) * green + kb * blue
    cb, cr = (blue - luma) / (2.0 * (1.0 - kb)), (red - luma) / (2.0 * (1.0 - kr))
    return math.degrees(math.atan2(cr, cb)) % 360.0
