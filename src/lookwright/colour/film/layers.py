"""Scene light to the exposures of three layers, and the coupling between the layers.

Both matrices have rows that sum to one, so a neutral stays a neutral whatever they hold.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array

EXPOSURE_FLOOR = 1.0e-4
"""Scene light (0.18 = middle grey) at which the logarithm bends over: 10.8 stops under grey."""

MOST_LIGHT = 1.0e12
"""Scene light beyond this (42 stops over grey) is held, so that no finite input overflows."""


def unit_rows(red: tuple[float, float], green: tuple[float, float], blue: tuple[float, float]) -> Array:
    """(3, 3) matrix from its off-diagonal entries, row by row; the diagonal makes each row sum to one."""
    m = np.array(
        [
            [1.0 - red[0] - red[1], red[0], red[1]],
            [green[0], 1.0 - green[0] - green[1], green[1]],
            [blue[0], blue[1], 1.0 - blue[0] - blue[1]],
        ]
    )
    return m


def layer_exposure(scene: ArrayLike, sensitivity: Array) -> Array:
    """Exposure of the red-, green- and blue-sensitive layer.

    Parameters
    ----------
    scene
        (..., 3) linear ACEScg light, 0.18 = middle grey. Negatives pass; NaN stays NaN;
        magnitudes above :data:`MOST_LIGHT` are held there.
    sensitivity
        (3, 3) rows = layers, unit row sums, entries >= 0: each layer also sees some of its
        neighbours' light, as real sensitivities overlap.
    """
    light = np.clip(np.asarray(scene, np.float64), -MOST_LIGHT, MOST_LIGHT)
    return light @ sensitivity.T


def log_exposure(exposure: ArrayLike, floor: float = EXPOSURE_FLOOR) -> Array:
    """log10 of exposure, carried on smoothly through zero and negatives.

    x = log10(floor) + asinh(E / (2 floor)) / ln 10, which is log10 of
    (E + sqrt(E^2 + 4 floor^2)) / 2: for E well above the floor it is log10 E (+0.2 % of
    exposure at 22 floors), at E = 0 it is log10(floor), and below it keeps falling, so the
    map is strictly increasing over all finite numbers.
    """
    half = np.asarray(exposure, np.float64) * (0.5 / floor)
    return np.arcsinh(half) * (1.0 / np.log(10.0)) + np.log10(floor)


def coupling_matrix(base: Array, amount: float) -> Array:
    """(3, 3) I + amount (base - I): 0 = no coupling, 1 = ``base``; the unit row sums remain."""
    eye = np.eye(3)
    return eye + amount * (base - eye)


def couple(density: ArrayLike, matrix: Array) -> Array:
    """Inter-image effect: densities (..., 3) after the layers inhibited each other.

    Developing one layer holds back its neighbours (developer-inhibitor-releasing couplers; Hunt,
    *The Reproduction of Colour*, 6th ed., ch. 15, from memory). A linear map on densities with unit
    row sums is the plainest model of it: differences between layers grow, neutrals do not move.
    """
    return np.asarray(density, np.float64) @ matrix.T
