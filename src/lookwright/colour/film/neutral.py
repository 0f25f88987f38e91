"""Equivalent neutral density: the dye amounts that make a grey of each density.

The equivalent neutral density of a dye deposit is the visual density of the grey it makes
together with just enough of the other two dyes (Evans, Hanson and Brewer, *Principles of Color
Photography*, 1953, from memory). Here the layers of the print are measured in it: three equal layer
densities D give, by construction, a grey of visual density D under the lamp.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from lookwright.arrays import Array

LN10 = float(np.log(10.0))

DEGREE = 14
"""Degree of the polynomial of amount / density; the residual is below 1e-8 density (tests)."""


def neutral_amounts(densities: Array, bands: Array, weights: Array) -> Array:
    """Solve the dye amounts of neutral densities by Newton's method.

    Parameters
    ----------
    densities
        (n,) visual densities above clear film, > 0.
    bands
        (3, w) dye absorptions.
    weights
        (w, 3) from transmittance to X, Y, Z, not negative; clear film is the white.

    Returns
    -------
    (n, 3) amounts, such that each value over its clear-film value is 10^-D.

    Raises
    ------
    ArithmeticError
        If 60 steps do not bring the densities within 1e-10: the dyes cannot make that grey.
    """
    wanted = np.asarray(densities, np.float64)[:, None]
    clear = weights.sum(axis=0)
    # For little dye the equation is linear: start on that line.
    first = np.linalg.solve((bands @ weights / clear).T, np.ones(3))
    amounts = wanted * first
    for _ in range(60):
        passed = np.exp(-LN10 * (amounts @ bands))
        values = passed @ weights
        got = -np.log10(values / clear)
        error = got - wanted
        if float(np.abs(error).max()) < 1e-12:
            return amounts
        # d got_k / d amount_j = sum_w T B_j W_k / value_k
        slope = np.einsum("nw,jw,wk->nkj", passed, bands, weights) / values[:, :, None]
        step = np.linalg.solve(slope, error[..., None])[..., 0]
        # A long step is shortened: the equation is close to linear only over about one density.
        longest = np.abs(step).max(axis=1, keepdims=True)
        amounts = amounts - step * np.minimum(1.0, 1.0 / np.maximum(longest, 1e-300))
    if float(np.abs(error).max()) < 1e-10:
        return amounts
    raise ArithmeticError("no dye amounts make this neutral density")


@cache
def _chebyshev() -> tuple[Array, Array, Array]:
    """The DEGREE + 1 Chebyshev nodes in -1..1, the matrix from values there to the coefficients c_k of the polynomial
    through them, and that from these to its powers, highest first. Two matrices, not their product: its entries run to
    thousands and cancel.

    Values are a sum of c_k T_k with c_k = (2 - [k = 0]) / n sum_j f(x_j) T_k(x_j), as the T_k are orthogonal over the
    nodes; and T_k+1 = 2 x T_k - T_k-1 in powers. A textbook result; numpy.polynomial takes as long to import as a film
    to make.
    """
    n = DEGREE + 1
    angles = np.pi * (np.arange(n)[::-1] + 0.5) / n
    values = np.cos(np.outer(np.arange(n), angles))
    powers = np.zeros((n, n))
    powers[0, 0] = powers[1, 1] = 1.0
    for k in range(2, n):
        powers[k, 1:] = 2.0 * powers[k - 1, :-1]
        powers[k] -= powers[k - 2]
    weights = np.full(n, 2.0 / n)
    weights[0] = 1.0 / n
    return np.cos(angles), weights[:, None] * values, np.ascontiguousarray(powers.T[::-1])


@dataclass(frozen=True)
class NeutralScale:
    """Dye amounts as smooth functions of equivalent neutral density, 0 to ``top``.

    amount_i(D) = D p_i(2 D / top - 1), with p a polynomial (powers, highest first) fitted at Chebyshev
    nodes: one analytic function over the whole scale, so no seams, and no dye at density 0.
    """

    top: float
    powers: Array
    """(DEGREE + 1, 3) coefficients, highest power first."""

    @classmethod
    def solve(cls, top: float, bands: Array, weights: Array) -> NeutralScale:
        """Fit the scale for dyes and lamp; see :func:`neutral_amounts` for the arrays."""
        nodes, to_coefficients, to_powers = _chebyshev()
        densities = 0.5 * top * (nodes + 1.0)
        ratio = neutral_amounts(densities, bands, weights) / densities[:, None]
        powers = to_powers @ (to_coefficients @ ratio)
        return cls(top, np.ascontiguousarray(powers))

    def __call__(self, density: Array) -> Array:
        """(..., 3) dye amounts of (..., 3) layer densities within 0..top (not checked)."""
        u = density * (2.0 / self.top) - 1.0
        total = u * self.powers[0]
        for c in self.powers[1:-1]:
            total += c
            total *= u
        total += self.powers[-1]
        total *= density
        return total
