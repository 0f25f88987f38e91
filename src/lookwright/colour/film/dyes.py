"""Cyan, magenta and yellow dyes: absorption bands and the Beer-Lambert law.

Model, not data: three asymmetric Gaussians of wavelength (nm) and a matrix of side absorptions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array


@dataclass(frozen=True)
class DyeSet:
    """Three dyes in the order cyan, magenta, yellow.

    Parameters
    ----------
    centres
        Wavelength of each main band, nm.
    short, long
        Standard deviation of each band toward short and toward long wavelengths, nm.
    sides
        (3, 3) rows = dyes: share of each band in each dye; 1 on the diagonal, side absorptions
        (>= 0) elsewhere.
    """

    centres: tuple[float, float, float]
    short: tuple[float, float, float]
    long: tuple[float, float, float]
    sides: tuple[tuple[float, float, float], ...]

    def bands(self, wavelength: ArrayLike) -> Array:
        """(3, n) absorption of a unit amount of each dye, as density, at ``wavelength`` (n,) in nm.

        Both halves of a band have value 1 and slope 0 at its centre: the band and its
        first derivative are continuous.
        """
        lam = np.asarray(wavelength, np.float64)[None, :]
        away = lam - np.array(self.centres)[:, None]
        width = np.where(away < 0.0, np.array(self.short)[:, None], np.array(self.long)[:, None])
        return np.asarray(self.sides) @ np.exp(-0.5 * (away / width) ** 2)


def spectral_density(amounts: ArrayLike, bands: Array, base: ArrayLike = 0.0) -> Array:
    """D(lambda) = c C(lambda) + m M(lambda) + y Y(lambda) + base(lambda): Beer-Lambert.

    Absorptions of dyes in one layer pack add as densities because their transmittances multiply.

    Parameters
    ----------
    amounts
        (..., 3) amounts of cyan, magenta, yellow (1 = density 1 at the band's centre).
    bands
        (3, n) from :meth:`DyeSet.bands`.
    base
        (n,) density of the support, or 0.

    Returns
    -------
    (..., n) densities.
    """
    return np.asarray(amounts, np.float64) @ bands + np.asarray(base, np.float64)


def spectral_transmittance(amounts: ArrayLike, bands: Array, base: ArrayLike = 0.0) -> Array:
    """10^-D(lambda) of :func:`spectral_density`; (..., n)."""
    return np.exp(-np.log(10.0) * spectral_density(amounts, bands, base))
