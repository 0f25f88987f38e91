"""What an output signal looks like: CIELAB of it, how fast CIEDE2000 grows round it, and its end values."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.difference import light_to_lab
from lookwright.colour.plain import plain_light
from lookwright.colour.spaces.signal import Signal

ToLab = Callable[[Array], Array]

_REACH = 0.005
"""Step of the difference quotient, in signal: about the size of the errors to be weighed (5 codes of 10 bits),
not infinitesimal, because at black the slope of a gamma curve is zero and yet an error of 5 codes shows."""


_TURN = 0.51
"""Signal above which the quotient is taken downward. Not 0.5, on which lattice points fall exactly: there the last bit
would decide."""


def lab_of(output: Signal) -> ToLab:
    """A function from (..., 3) output signal to CIELAB under D65, white at reference white.

    Scene light is judged as the plain rendering shows it, since a log signal has no appearance of its own.
    """
    if output.kind == "display":
        return lambda signal: light_to_lab(output.to_light(signal))

    return lambda signal: light_to_lab(plain_light(output.to_scene(signal)))


def ends_of(output: Signal) -> tuple[float, float] | None:
    """The code values of black and of the peak of a display signal; None for scene light, which has no ends."""
    if output.kind != "display":
        return None
    peak = output.encoding.peak
    ends = output.encode(np.array([[0.0] * 3, [peak] * 3]))
    return float(ends[0, 0]), float(ends[1, 0])


def of_look(
    look: object, to_lab: ToLab | None, ends: tuple[float, float] | None, title: str
) -> tuple[ToLab, tuple[float, float] | None, str]:
    """How to judge the output of a look, its ends, and its title: as given, or by what the look states.

    Raises TypeError where ``to_lab`` is None and the look states no output.
    """
    if to_lab is not None:
        return to_lab, ends, title
    output = getattr(look, "output", None)
    if output is None:
        raise TypeError("to_lab is needed for a look that does not state its output")
    return lab_of(output), ends_of(output), title or look.look.title  # type: ignore[attr-defined]


def sensitivity(signal: Array, to_lab: ToLab) -> Array:
    """How CIEDE2000 grows with small errors of the signal, to first order.

    Parameters
    ----------
    signal
        (M, 3) output signal.
    to_lab
        Output signal to CIELAB.

    Returns
    -------
    (6, M) float64: the distinct elements 00, 11, 22, 01, 02, 12 of the symmetric matrices Q with
    dE^2 = e' Q e for an error e of the signal.

    Notes
    -----
    Weights S_L, S_C, S_H and the stretch of a* as in Sharma, Wu and Dalal 2005 (equations 4 to 20) at zero
    difference, and the rotation R_T for blues (equations 21, 22). Left out: the slope of the stretch.
    """
    lab = to_lab(signal)
    return _difference_squared(lab, _slopes(signal, lab, to_lab))


def _slopes(signal: Array, lab: Array, to_lab: ToLab) -> Array:
    """(M, 3, 3) change of L*, a*, b* with every channel."""
    quotients = []
    for c in range(3):
        # Inward, so that the ends of the signal are not overstepped.
        step = np.where(signal[:, c] > _TURN, -_REACH, _REACH)
        moved = signal.copy()
        moved[:, c] += step
        quotients.append((to_lab(moved) - lab) / step[:, None])
    return np.stack(quotients, axis=-1)


def _difference_squared(lab: Array, slope: Array) -> Array:
    """(6, M) matrices of :func:`sensitivity` for colours (M, 3) and their slopes (M, 3, 3)."""
    lightness, a, b = lab.T
    power = np.hypot(a, b) ** 7
    stretch = 1.0 + 0.5 * (1.0 - np.sqrt(power / (power + 25.0**7)))
    a = a * stretch
    chroma = np.hypot(a, b)
    safe = np.maximum(chroma, 1e-9)
    # The hue of grey is undefined; any will do there, as S_C and S_H are then equal.
    cosine = np.where(chroma > 1e-9, a / safe, 1.0)
    sine = np.where(chroma > 1e-9, b / safe, 0.0)
    hue = np.arctan2(b, a)
    t = (
        1.0
        - 0.17 * np.cos(hue - np.radians(30.0))
        + 0.24 * np.cos(2.0 * hue)
        + 0.32 * np.cos(3.0 * hue + np.radians(6.0))
        - 0.20 * np.cos(4.0 * hue - np.radians(63.0))
    )
    off = (lightness - 50.0) ** 2
    s_l = 1.0 + 0.015 * off / np.sqrt(20.0 + off)
    s_c = 1.0 + 0.045 * chroma
    s_h = 1.0 + 0.015 * chroma * t
    d_a, d_b = slope[:, 1] * stretch[:, None], slope[:, 2]
    rows = (
        slope[:, 0] / s_l[:, None],
        (cosine[:, None] * d_a + sine[:, None] * d_b) / s_c[:, None],
        (cosine[:, None] * d_b - sine[:, None] * d_a) / s_h[:, None],
    )
    half_turn = _half_turn(hue, chroma)
    pairs = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))
    _, c_row, h_row = rows

    def element(i: int, j: int) -> Array:
        squares = sum(r[:, i] * r[:, j] for r in rows)
        return squares + half_turn * (c_row[:, i] * h_row[:, j] + c_row[:, j] * h_row[:, i])

    return np.stack([element(i, j) for i, j in pairs])


def _half_turn(hue: Array, chroma: Array) -> Array:
    """Half of R_T: the product of chroma and hue errors counts in blues; |R_T| < 2 keeps the form positive."""
    towards_blue = np.exp(-(((np.degrees(hue) % 360.0 - 275.0) / 25.0) ** 2))
    seventh = chroma**7
    return np.asarray(-np.sin(np.radians(60.0 * towards_blue)) * np.sqrt(seventh / (seventh + 25.0**7)), np.float64)
