"""Matching a frame of other content: distributions, not pixels.

Colours of stills and reference are compared as distributions in Oklab, by their quantiles along fixed directions (the
sliced Wasserstein distance: Rabin, Peyre, Delon & Bernot 2011), along lightness and the two colour axes once more, and
by where their warm and cool sides lie. Where marks name the same parts in both (skin, ambient ...), each part is
compared with its like, and the frames as wholes count for less: their contents differ, skin does not.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

from .goals import Goal, soft_poles
from .model import Seen

DIRECTIONS = 24
BINS = 32
SOFT = 12.0
"""Residual (Oklab x 100) from which a quantile counts by its size, not its square: where the two contents have nothing
to do with each other (a window in one, none in the other) quantiles lie far apart and must not pull so hard."""


@lru_cache(maxsize=1)
def directions() -> Array:
    """(DIRECTIONS + 3, 3) unit vectors: evenly spread over half a sphere (a Fibonacci lattice), then L, a, b."""
    i = np.arange(DIRECTIONS) + 0.5
    height = i / DIRECTIONS  # opposite directions give the same distance, so half a sphere is all
    angle = np.pi * (1.0 + np.sqrt(5.0)) * i
    radius = np.sqrt(1.0 - height**2)
    spread = np.stack([height, radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    return np.concatenate([spread, np.eye(3)])


def bin_means(ordered: Array) -> Array:
    """(BINS, k) means of equal shares of (n, k) sorted values: quantiles that use every sample."""
    edges = np.linspace(0.0, len(ordered), BINS + 1)
    total = np.concatenate([np.zeros((1, ordered.shape[1])), np.cumsum(ordered, axis=0)])
    whole = np.minimum(edges.astype(int), len(ordered) - 1)
    # A bin may end inside a sample: it gets its share of it, so any two sample counts can be compared.
    upto = total[whole] + (edges - whole)[:, None] * ordered[whole]
    return np.diff(upto, axis=0) / (len(ordered) / BINS)


def sliced_distance(one: Array, two: Array) -> float:
    """Root mean square distance of quantiles over all directions, (n, 3) and (m, 3) samples, in their own unit."""
    d = directions()[:DIRECTIONS].T
    a, b = bin_means(np.sort(one @ d, axis=0)), bin_means(np.sort(two @ d, axis=0))
    return float(np.sqrt(np.mean((a - b) ** 2)))


@dataclass
class Likeness(Goal):
    """How the samples' colours are distributed, against those of the reference."""

    part: slice
    target: Array
    """(m, 3) samples of the reference, Oklab x 100."""
    weight: float = 1.0
    name: str = "reference"
    words: str = "distance to the reference (sliced quantiles in Oklab x 100, root mean square)"
    floor: float = 0.3
    pieces: float = 30.0
    """Ten or so independent numbers describe a distribution along each of three axes (our choice)."""
    poles: bool = True
    _wanted: Array = field(init=False, repr=False)
    _wanted_poles: Array = field(init=False, repr=False)
    _order: NDArray[np.intp] | None = field(default=None, init=False, repr=False)
    _for: Seen | None = field(default=None, init=False, repr=False)

    def __post_init__(self) -> None:
        self._wanted = bin_means(np.sort(self.target @ directions().T, axis=0))
        self._wanted_poles = soft_poles(self.target)

    def _errors(self, seen: Seen) -> tuple[Array, NDArray[np.intp]]:
        along = seen.lab @ directions().T
        order = np.argsort(along, axis=0, kind="stable")
        return bin_means(np.take_along_axis(along, order, axis=0)) - self._wanted, order

    def _shares(self) -> Array:
        """Root of the share of each direction: lightness, a and b count for half of all."""
        extra = len(directions()) - DIRECTIONS
        shares = np.concatenate([np.full(DIRECTIONS, 0.5 / DIRECTIONS), np.full(extra, 0.5 / extra)])
        return np.sqrt(shares / BINS)

    def residuals(self, seen: Seen) -> Array:
        error, order = self._errors(seen)
        self._order, self._for = order, seen
        parts = [(_soft(error) * self._shares()).ravel()]
        if self.poles:
            # Two mean colours of three numbers each, together worth a quarter of the quantiles.
            parts.append(_soft(soft_poles(seen.lab) - self._wanted_poles).ravel() * np.sqrt(0.25 / 6.0))
        return np.concatenate(parts)

    def differences(self, base: Seen, moved: Seen, at_base: Array) -> Array:
        if self._for is not base or self._order is None:
            self.residuals(base)
        assert self._order is not None
        # Near by, the order of the samples along a direction stays; no sorting.
        error = bin_means(np.take_along_axis(base.lab @ directions().T, self._order, axis=0)) - self._wanted
        step = bin_means(np.take_along_axis((moved.lab - base.lab) @ directions().T, self._order, axis=0))
        parts = [(_soft_slope(error) * step * self._shares()).ravel()]
        if self.poles:
            count = self._wanted_poles.size
            after = _soft(soft_poles(moved.lab) - self._wanted_poles).ravel() * np.sqrt(0.25 / 6.0)
            parts.append(after - at_base[-count:])
        return np.concatenate(parts)

    def distance(self, seen: Seen) -> float:
        return sliced_distance(seen.lab, self.target)


def _soft(r: Array) -> Array:
    """r for small r; its square grows like |r| for large: sign(r) sqrt(2) c sqrt(sqrt(1 + (r/c)^2) - 1)."""
    q = (r / SOFT) ** 2
    # sqrt(1 + q) - 1 without losing digits: q / (sqrt(1 + q) + 1).
    return np.sign(r) * SOFT * np.sqrt(2.0 * q / (np.sqrt(1.0 + q) + 1.0))


def _soft_slope(r: Array) -> Array:
    """Derivative of :func:`_soft`."""
    root = np.sqrt(1.0 + (r / SOFT) ** 2)
    return np.sqrt((root + 1.0) / 2.0) / root
