"""How far a lattice is from the look it was sampled from: an error certificate for every bake."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice

_BLOCK = 1 << 15


@dataclass(frozen=True)
class Deviation:
    """Colour differences in CIEDE2000 units over a set of samples."""

    mean: float
    p95: float
    p99: float
    max: float


@dataclass(frozen=True)
class Fidelity:
    """Deviation of both lookups from the exact look, and the number of samples behind it."""

    trilinear: Deviation
    tetrahedral: Deviation
    samples: int


def fidelity(
    exact: Callable[[Array], Any],
    lattice: Lattice,
    samples: ArrayLike,
    to_lab: Callable[[Array], Array],
) -> Fidelity:
    """Compare lookups in ``lattice`` with the look itself.

    Parameters
    ----------
    exact
        The look: (M, 3) float64 input signal to (M, 3) output signal.
    lattice
        Its LUT.
    samples
        (..., 3) input signal to compare at; at least one colour. Values outside the lattice's domain
        count as errors of the clamp.
    to_lab
        (M, 3) output signal to CIELAB under D65.

    Returns
    -------
    Mean, 95th and 99th percentile and maximum of CIEDE2000 for either interpolation.

    Raises
    ------
    ValueError
        Without samples.
    PictureError
        For NaN among the samples.
    """
    points = np.asarray(samples, dtype=np.float64).reshape(-1, 3)
    if len(points) == 0:
        raise ValueError("no samples to compare at")
    differences = {name: np.empty(len(points)) for name in ("trilinear", "tetrahedral")}
    for start in range(0, len(points), _BLOCK):
        part = points[start : start + _BLOCK]
        wanted = to_lab(np.asarray(exact(part), dtype=np.float64))
        for name, out in differences.items():
            out[start : start + _BLOCK] = ciede2000(wanted, to_lab(lookup(lattice, part, name)))
    return Fidelity(_deviation(differences["trilinear"]), _deviation(differences["tetrahedral"]), len(points))


def _deviation(values: Array) -> Deviation:
    p95, p99 = np.percentile(values, [95.0, 99.0])
    return Deviation(float(values.mean()), float(p95), float(p99), float(values.max()))
