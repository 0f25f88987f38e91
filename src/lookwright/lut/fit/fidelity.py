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
    mean_3sd: float
    """Mean and three standard deviations: what nearly every colour stays under."""


@dataclass(frozen=True)
class Fidelity:
    """Deviation of both lookups from the exact look, and the number of samples behind it."""

    trilinear: Deviation
    tetrahedral: Deviation
    samples: int


Report = dict[str, Fidelity]
"""By set of colours, none of which a fit or a choice has seen: ``stills`` (other pixels of those given), ``left_out``
(a whole still, where two or more are given), ``natural`` (an independent draw of natural colours, prior.py), ``cube``
(all colours alike)."""

CONTENT = {
    "stills": "other pixels of the stills given",
    "left_out": "a still left out whole",
    "natural": "natural colours, drawn independently",
    "cube": "all colours alike",
}
"""Words for the sets of a report."""


def certificate(report: Report) -> list[str]:
    """Lines for a file header: how far lookups are from the exact look, on what, and in which unit."""
    lines = []
    for name, words in CONTENT.items():
        if name in report:
            found = report[name]
            parts = (
                f"{lookup} {d.mean_3sd:.2f} (mean {d.mean:.3f}, 99 % {d.p99:.2f})"
                for lookup, d in (("trilinear", found.trilinear), ("tetrahedral", found.tetrahedral))
            )
            lines.append(f"Error on {words}: {', '.join(parts)}")
    if lines:
        lines.insert(0, "Error against the exact look: mean + 3 standard deviations in CIEDE2000, by lookup")
    return lines


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
    differences = np.empty((2, len(points)))
    for start in range(0, len(points), _BLOCK):
        part = points[start : start + _BLOCK]
        wanted = to_lab(np.asarray(exact(part), dtype=np.float64))
        for row, name in zip(differences, ("trilinear", "tetrahedral"), strict=True):
            row[start : start + _BLOCK] = ciede2000(wanted, to_lab(lookup(lattice, part, name)))
    return judged(differences)


def judged(differences: Array) -> Fidelity:
    """What there is to say of (2, M) differences, trilinear and tetrahedral."""
    return Fidelity(_deviation(differences[0]), _deviation(differences[1]), differences.shape[1])


def _deviation(values: Array) -> Deviation:
    p95, p99 = np.percentile(values, [95.0, 99.0])
    mean, sd = float(values.mean()), float(values.std())
    return Deviation(mean, float(p95), float(p99), float(values.max()), mean + 3.0 * sd)
