"""A few wavelengths that do the work of the whole spectrum.

The colour of a transmittance T under a lamp is the integral of T times lamp times observer. For
spectra that three smooth dyes can make, a handful of wavelengths with solved, non-negative weights
gives the same integrals: a Gauss-like rule for this family. Used by ``choose`` only; what it
finds is stored in ``constants``.
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

from .dyes import DyeSet, spectral_transmittance
from .projection import Observer, base_tint, blackbody

NODE_RANGE = (392.0, 750.0)
"""Where nodes may lie, nm; the observer's last traces outside are carried by the solved weights."""


def training_spectra(dyes: DyeSet, wavelength: Array) -> Array:
    """(s, n) lamp x base x dye spectra over the whole range of the parameters."""
    steps = np.array([0.0, 0.2, 0.5, 0.9, 1.5, 2.4, 3.6, 5.0, 7.0, 9.0])
    amounts = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), -1).reshape(-1, 3)
    passed = spectral_transmittance(amounts, dyes.bands(wavelength))
    rows = []
    for kelvin in (2800.0, 3600.0, 5000.0, 7500.0):
        for finish in (-1.0, 0.0, 1.0):
            light = blackbody(wavelength, kelvin) * 10.0 ** -base_tint(wavelength, finish)
            rows.append(passed * light)
    return np.concatenate(rows)


def gauss_nodes(full: Observer, count: int) -> Array:
    """(count,) wavelengths of the Gauss rule for the measure x-bar + y-bar + z-bar in :data:`NODE_RANGE`.

    Lanczos recurrence of the orthogonal polynomials and eigenvalues of its tridiagonal matrix
    (Golub and Welsch 1969, *Math. Comp.* 23, 221-230).
    """
    from scipy.linalg import eigh_tridiagonal

    middle, half = 580.0, 200.0
    inside = (full.wavelength >= NODE_RANGE[0]) & (full.wavelength <= NODE_RANGE[1])
    x = (full.wavelength[inside] - middle) / half
    measure = full.weights[inside].sum(axis=1)
    measure = measure / measure.sum()
    polynomials = [np.ones_like(x)]
    diagonal, beside = [], []
    for _ in range(count):
        last = polynomials[-1]
        diagonal.append(float((measure * x * last * last).sum()))
        following = x * last
        for p in polynomials:  # full orthogonalisation: the short recurrence loses it in rounding
            following = following - (measure * p * following).sum() * p
        beside.append(float(np.sqrt((measure * following * following).sum())))
        polynomials.append(following / beside[-1])
    return eigh_tridiagonal(diagonal, beside[:-1], eigvals_only=True) * half + middle


def solve_quadrature(dyes: DyeSet, full: Observer, count: int) -> tuple[Observer, float]:
    """At most ``count`` wavelengths and weights that integrate the training spectra against the observer.

    Nodes: :func:`gauss_nodes`, to 0.01 nm. Weights: non-negative least squares per x-, y-, z-bar over
    the training spectra, each weighted down by its own luminance to the power 2/3 (a lightness-like
    scale, so that dark colours count too). Nodes that get no weight at all are left out.

    Returns
    -------
    The rule, and its largest error on the training set as a share of (value + 1 % of white).
    """
    from scipy.optimize import nnls

    exact = training_spectra(dyes, full.wavelength) @ full.weights
    white = exact.max(axis=0)
    weight = 1.0 / (exact[:, 1] / white[1] + 1.0e-3) ** (2.0 / 3.0)
    nodes = np.round(gauss_nodes(full, count), 2)
    spectra = training_spectra(dyes, nodes)
    scaled = spectra * weight[:, None]
    columns = [nnls(scaled, exact[:, k] * weight, maxiter=100 * count)[0] for k in range(3)]
    # Ten significant digits are what is stored.
    weights = np.array([[float(f"{v:.10g}") for v in row] for row in np.stack(columns, axis=1)])
    used = weights.any(axis=1)
    nodes, weights, spectra = nodes[used], weights[used], spectra[:, used]
    error = np.abs(spectra @ weights - exact) / (exact + 0.01 * white)
    return Observer(nodes, weights), float(error.max())
