"""Two strong grades by other means than our steps: numpy alone, ACEScct code values to BT.1886 ones.

Channels mixed in light, each through its own Michaelis-Menten curve (Naka and Rushton 1966), then tints by level and
pushes of single hues in the plane of colour differences. Strengths are common practice, no source.
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.signal import Signal

LOG = Signal.named("ACEScct")
_N = np.ones(3) / np.sqrt(3.0)


def curve(light: Array, grey: float, power: float) -> Array:
    """Display light of scene light, 18 % grey on ``grey``, as signal at gamma 2.4."""
    x = np.maximum(light, 0.0) ** power
    return (x / (x + 0.18**power * (1.0 / grey - 1.0))) ** (1.0 / 2.4)


def positive(light: Array) -> Array:
    """Light held above zero by a soft knee of 0.005."""
    return np.asarray(np.logaddexp(0.0, light * 200.0) / 200.0)


def pushed(signal: Array, centre: float, width: float, turn: float, colour: float) -> Array:
    """Hues round ``centre`` (degrees in the plane of R'G'B' differences) turned and given another saturation."""
    d = signal - signal.mean(-1, keepdims=True)
    u, v = d @ np.array([1.0, -0.5, -0.5]), d @ np.array([0.0, 0.75**0.5, -(0.75**0.5)])
    square = u * u + v * v
    off = np.angle(np.exp(1j * (np.arctan2(v, u) - np.radians(centre))))
    share = np.exp(-0.5 * (off / np.radians(width)) ** 2) * square / (square + 0.0036)
    angle, gain = np.radians(turn) * share, 1.0 + (colour - 1.0) * share
    turned = d * np.cos(angle)[..., None] + np.cross(_N, d) * np.sin(angle)[..., None]
    return signal.mean(-1, keepdims=True) + gain[..., None] * turned


def amber(code: Array) -> Array:
    """Teal shadows, amber lights, greens toward yellow and quieter, reds fuller."""
    mix = np.array([[1.16, -0.12, -0.04], [-0.02, 1.06, -0.04], [0.0, -0.06, 1.06]])
    y = curve(positive(LOG.to_scene(code) @ mix.T), 0.1, 1.25)
    luma = (y @ [0.25, 0.65, 0.1])[..., None]
    y = y + np.array([-0.03, 0.008, 0.035]) * (1 - luma) ** 2 * luma * 3
    y = y + np.array([0.05, 0.012, -0.07]) * luma**2 * (1 - luma) * 3
    return np.clip(pushed(pushed(y, 110.0, 40.0, -22.0, 0.6), 15.0, 35.0, 8.0, 1.25), 0.0, 1.0)


def bleached(code: Array) -> Array:
    """Steep, a third of the colour bleached, blues toward cyan, skin fuller, paper for white."""
    mix = np.array([[0.9, 0.08, 0.02], [0.05, 0.9, 0.05], [0.03, 0.1, 0.87]])
    y = curve(positive(LOG.to_scene(code) @ mix.T), 0.095, 1.4)
    luma = (y @ [0.3, 0.6, 0.1])[..., None]
    y = 0.7 * y + 0.3 * luma * (1 + 0.5 * (luma - 0.5) * (1 - luma))
    y = pushed(pushed(y, 225.0, 45.0, -24.0, 0.7), 35.0, 30.0, 14.0, 1.3)
    return np.clip(y * np.array([0.97, 0.98, 0.92]) + np.array([0.01, 0.014, 0.03]), 0.0, 1.0)


GRADES = {"amber": amber, "bleached": bleached}
