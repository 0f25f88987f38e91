"""A penalised spline of colour: radial powers of the distance to knots, and an affine part that is not penalised.

The fit minimises the weighted squares of what it leaves plus ``smoothing`` times the energy of the kernel (Wahba 1990,
"Spline Models for Observational Data"; thin-plate regression on fewer knots than samples). The kernel r^3 is the
smoother one, r (the distance itself) keeps more to its neighbourhood.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array

_AT_ONCE = 4096
"""Points evaluated together: their distances to 900 knots take 30 MB."""
_STEADY = 1e-12
"""Added to the scaled equations' diagonal of 1: knots may all but coincide."""


@dataclass(frozen=True)
class Spline:
    """Coefficients of a fit; call it with (m, 3) colours for (m, 3) values."""

    knots: Array
    """(n, 3)."""
    power: int
    """1 or 3: of the distance."""
    coefficients: Array
    """(n + 4, 3): of the knots, of the constant, of the three channels."""

    def __call__(self, points: Array) -> Array:
        parts = range(0, len(points), _AT_ONCE)
        found = [features(points[i : i + _AT_ONCE], self.knots, self.power) @ self.coefficients for i in parts]
        return np.concatenate(found) if found else np.zeros((0, 3))


def features(points: Array, knots: Array, power: int) -> Array:
    """(m, n + 4): the kernel between points and knots, positive on the space of the fit, then 1 and the channels."""
    return np.concatenate([kernel(points, knots, power), np.ones((len(points), 1)), points], axis=1)


def kernel(points: Array, knots: Array, power: int) -> Array:
    """(m, n) r^3 or -r. Written out per channel: a distance is then the same number whatever the library."""
    square = sum((points[:, c, None] - knots[None, :, c]) ** 2 for c in range(3))
    distance = np.sqrt(square)
    return np.asarray(square * distance if power == 3 else -distance)


class Fit:
    """The normal equations of one set of samples and knots, ready for any smoothing.

    Parameters
    ----------
    points, weight
        (m, 3) colours and (m,) how much each counts.
    knots
        (n, 3), n > 4, not all in one plane.
    power
        1 or 3.
    """

    def __init__(self, points: Array, weight: Array, knots: Array, power: int) -> None:
        self._knots, self._power = knots, power
        n = len(knots)
        plane = np.concatenate([np.ones((n, 1)), knots], axis=1)
        # Coefficients that give no affine part of their own: there the kernel is positive definite.
        self._free = np.linalg.qr(plane, mode="complete")[0][:, 4:]
        wide = features(points, knots, power)
        self._shares = np.concatenate([wide[:, :n] @ self._free, wide[:, n:]], axis=1)
        self._weight = weight
        self._square = self._shares.T @ (weight[:, None] * self._shares)
        self._energy = self._free.T @ kernel(knots, knots, power) @ self._free

    def solve(self, values: Array, smoothing: float) -> Spline:
        """The spline for values (m, 3)."""
        from scipy.linalg import cho_factor, cho_solve

        n = len(self._knots)
        square = self._square.copy()
        square[: n - 4, : n - 4] += smoothing * self._weight.sum() * self._energy
        right = self._shares.T @ (self._weight[:, None] * values)
        scale = 1.0 / np.sqrt(np.diagonal(square))
        square *= scale[:, None] * scale[None, :]
        square[np.diag_indices(n)] += _STEADY
        factor = cho_factor(square)
        found = cho_solve(factor, scale[:, None] * right)
        # Once more on what the rounding left: two libraries then agree to more digits.
        found += cho_solve(factor, scale[:, None] * right - square @ found)
        found *= scale[:, None]
        return Spline(self._knots, self._power, np.concatenate([self._free @ found[: n - 4], found[n - 4 :]]))
