"""Printing a negative: printer lights, and the light solved for the aim grey.

A printer light (point) is 0.025 in log10 exposure. Twelve of them (12.04) are one stop of
*printing* exposure. One stop of *camera* exposure is 0.30103 gamma / 0.025 points: 7.2 for
a negative of gamma 0.6.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array

from .sensitometry import STOP, Curve

POINT = 0.025
"""One printer light in log10 exposure (Case, *Film Technology in Post Production*, 2001, quoted)."""


def points_to_log10(points: ArrayLike) -> Array:
    """log10 exposure of a number of printer lights."""
    return POINT * np.asarray(points, np.float64)


def points_per_stop(gamma: float = 1.0) -> float:
    """Printer lights that undo one stop in front of a negative of ``gamma`` (1 = printing exposure)."""
    return STOP * gamma / POINT


def print_log_exposure(negative_density: ArrayLike, lights: ArrayLike) -> Array:
    """log10 exposure of the print behind a negative: light minus density, layer by layer.

    Parameters
    ----------
    negative_density
        (..., 3) densities above base.
    lights
        (3,) log10 exposure through clear negative base, for the red, green and blue light.
    """
    return np.asarray(lights, np.float64) - np.asarray(negative_density, np.float64)


def base_light(grey_negative_density: float, grey_print_density: float, curve: Curve) -> float:
    """log10 light that prints a negative density to a print density on ``curve``.

    Solved: curve(light - D_negative) = D_print, by inverting the print curve.
    """
    return curve.inverse(grey_print_density) + grey_negative_density
