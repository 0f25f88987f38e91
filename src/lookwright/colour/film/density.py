"""Visual density: what the eye calls the density of a patch of print.

ISO 5-3:2009 defines visual density by a spectral product of the photopic V(lambda) with the
densitometer's own lamp. Neither that table nor the Status A, M or printing responses are offered
by colour-science, and none is copied here: this is the plain V(lambda)-weighted density under the
projection lamp, D = -log10(Y / Y_clear), with Y of the CIE 1931 observer (y-bar = V).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array

from .sensitometry import density


def visual_density(transmittance: ArrayLike, luminous: ArrayLike) -> Array:
    """V-weighted density of a spectrum, relative to the clear film that has transmittance 1.

    The spectrum is weighted first and the logarithm taken afterwards: integral densities do
    not add, spectral ones do.

    Parameters
    ----------
    transmittance
        (..., n) spectral transmittance.
    luminous
        (n,) lamp power times V(lambda), or quadrature weights that stand for it; any scale.
    """
    weight = np.asarray(luminous, np.float64)
    return density(np.asarray(transmittance, np.float64) @ (weight / weight.sum()))
