"""Maps of the hue circle onto itself that can never fold.

A hue map is made by following a velocity field on the circle for a unit of time.
The flow of any Lipschitz field is a strictly increasing map (two hues can never
meet), whatever the parameters, and where the field is zero hues stay. That is
what lets a pull toward two poles be combined with a hold on skin: multiplying
the *displacement* by a hold could reverse hues at its edge; multiplying the
*velocity* cannot.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lookwright.arrays import Array

TURN = 2.0 * np.pi
_NODES = 1440
_STEP = TURN / _NODES
_DOUBLINGS = 5

STEEPEST = 3.0
"""Change of a velocity along the circle, both in radians. A flow presses hues together by up to e to this: with 3 a
twentieth of their room is left, which numbers can still tell from a fold. One band at its bounds has 2.9."""


class HueMap:
    """A strictly increasing hue map, tabulated as displacement over the circle.

    Parameters
    ----------
    velocity
        Radians per unit time at hue (radians); must be 2 pi periodic and continuous. Where it changes faster than
        :data:`STEEPEST`, the whole of it is taken slower.
    """

    def __init__(self, velocity: Callable[[Array], Array]) -> None:
        hue = np.asarray(np.arange(_NODES) * _STEP, np.float64)
        at_nodes = velocity(hue)
        change = np.abs(np.roll(at_nodes, -1) - at_nodes).max() / _STEP
        dt = min(1.0, STEEPEST / max(change, STEEPEST)) / 2**_DOUBLINGS
        # One step of the classical fourth-order Runge-Kutta method, then the map after itself: the flow of twice the
        # time. Nearer to the flow than 24 steps of the method, of which each asks four times for the velocity.
        k2 = velocity(hue + 0.5 * dt * at_nodes)
        k3 = velocity(hue + 0.5 * dt * k2)
        k4 = velocity(hue + dt * k3)
        self._tabulate(dt / 6.0 * (at_nodes + 2.0 * k2 + 2.0 * k3 + k4))
        for _ in range(_DOUBLINGS):
            shift = self._shift[:-1]
            self._tabulate(shift + self.displacement(hue + shift))

    def _tabulate(self, shift: Array) -> None:
        """Cubic Hermite pieces: derivatives of fourth order, held as Fritsch & Carlson 1980 (0 to 3 times the rise of
        either side) so that each piece of hue + shift rises: the map is strictly increasing wherever its nodes are."""
        y = np.concatenate([shift[-2:], shift, shift[:3]])
        rise = 1.0 + np.diff(y) / _STEP
        slope = 1.0 + (8.0 * (y[3:-1] - y[1:-3]) - (y[4:] - y[:-4])) / (12.0 * _STEP)
        self._shift = y[2:-2]
        self._slope = np.clip(slope, 0.0, 3.0 * np.minimum(rise[1:-2], rise[2:-1])) - 1.0

    def displacement(self, hue: Array) -> Array:
        """Radians by which each hue (radians, any turn) moves."""
        position = np.mod(hue, TURN) / _STEP
        index = np.minimum(position.astype(np.intp), _NODES - 1)
        t = position - index
        y0, y1 = self._shift[index], self._shift[index + 1]
        m0, m1 = self._slope[index] * _STEP, self._slope[index + 1] * _STEP
        d = y1 - y0
        return y0 + t * (m0 + t * (3.0 * d - 2.0 * m0 - m1 + t * (m0 + m1 - 2.0 * d)))

    def __call__(self, hue: Array) -> Array:
        """The mapped hue in radians, on the same turn as the input (it may pass a full turn)."""
        return hue + self.displacement(hue)


def bump(hue: Array, centre: float, half_width: float) -> Array:
    """A smooth periodic bell: 1 at ``centre``, 1/2 at ``half_width`` to either side (all radians).

    The von Mises shape exp(k (cos(h - c) - 1)), k = ln 2 / (1 - cos(half width)).
    """
    k = np.log(2.0) / (1.0 - np.cos(half_width))
    return np.exp(k * (np.cos(hue - centre) - 1.0))


def rotate(ratios: Array, angle: Array) -> Array:
    """Turn (..., 2) opponent ratios by ``angle`` (...,) radians; lengths stay."""
    c, s = np.cos(angle), np.sin(angle)
    p, q = ratios[..., 0], ratios[..., 1]
    return np.stack([p * c - q * s, p * s + q * c], axis=-1)


NEAR_NEUTRAL = 0.06
"""Saturation at which an effect on hues has half its strength. Pale walls have about 0.04, skin about 0.08.

Much less would be finer than a 33-point lattice resolves beside its neutral axis (its points lie about 0.08 apart
there), and a LUT would add errors to the greys that the fade is there to protect
(tests/benchmarks/lattice_table.py)."""


def colour_fade(saturation: Array, half: float = NEAR_NEUTRAL) -> Array:
    """0 on neutrals rising to 1 with saturation s, smooth: s^2 / (s^2 + half^2)."""
    square = saturation * saturation
    return square / (square + half * half)
