"""Merging neighbouring regions, the cheapest border first, by the simplest form of the Mumford-Shah model.

Koepfler, Lopez and Morel 1994, "A multiscale algorithm for image segmentation by variational method", SIAM Journal on
Numerical Analysis 31(1): a picture that is constant in each region costs its squared error plus lambda times the
length of the borders, and two regions are merged while that lowers the cost.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array

Labels = NDArray[np.int32]


def borders(labels: Labels) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs (n, 2) of neighbouring regions, and the length in pixels (n,) of the border between them."""
    count = int(labels.max()) + 1
    sides = [(labels[:, :-1], labels[:, 1:]), (labels[:-1], labels[1:])]
    a = np.concatenate([s[0].ravel() for s in sides]).astype(np.int64)
    b = np.concatenate([s[1].ravel() for s in sides]).astype(np.int64)
    apart = a != b
    low, high = np.minimum(a[apart], b[apart]), np.maximum(a[apart], b[apart])
    keys, lengths = np.unique(low * count + high, return_counts=True)
    return np.stack([keys // count, keys % count], axis=-1), lengths


def merged(labels: Labels, values: Array, scale: float, most: int, least_pixels: int = 0) -> Labels:
    """Labels 0..n-1 of the merged regions, in the order of their first pixel.

    Parameters
    ----------
    labels
        (h, w) regions 0..m-1, each with at least one pixel.
    values
        (h, w, c) what is to be constant within a region.
    scale
        lambda: squared units of ``values`` times pixels, per pixel of border.
    most
        Regions at most; merging goes on beyond ``scale`` until there are no more.
    least_pixels
        A region smaller than this joins its cheapest neighbour whatever it costs.
    """
    regions = _Regions(labels, values)
    limit = scale / 4096.0
    while True:
        cost = regions.costs(least_pixels)
        chosen = regions.mutual(cost) & (cost <= limit)
        if not chosen.any():
            if limit < scale:
                limit = min(2.0 * limit, scale)  # lambda grows: what is alike meets before what is not
                continue
            if regions.count <= most or not len(cost):
                break
            chosen[np.argmin(cost)] = True
        regions.merge(chosen)
    return _renumbered(regions.into[labels])


class _Regions:
    """Sizes, means and borders; a sweep merges every pair that are each other's cheapest neighbour."""

    def __init__(self, labels: Labels, values: Array) -> None:
        self.count = int(labels.max()) + 1
        flat = labels.ravel()
        self.size = np.bincount(flat, minlength=self.count).astype(np.float64)
        sums = [np.bincount(flat, values[..., c].ravel(), self.count) for c in range(values.shape[-1])]
        self.sums = np.stack(sums, axis=-1)
        self.pairs, lengths = borders(labels)
        self.lengths = lengths.astype(np.float64)
        self.into: NDArray[np.int64] = np.arange(self.count)
        """The region that each of the first ones has become."""

    def costs(self, least_pixels: int) -> Array:
        """What a merge adds to the squared error, per pixel of border that it saves; near 0 for specks."""
        a, b = self.pairs[:, 0], self.pairs[:, 1]
        mean = self.sums / self.size[:, None]
        gap = ((mean[a] - mean[b]) ** 2).sum(axis=-1)
        cost = gap * (self.size[a] * self.size[b] / (self.size[a] + self.size[b])) / self.lengths
        speck = np.minimum(self.size[a], self.size[b]) < least_pixels
        return np.where(speck, cost / (1.0 + cost) * 1e-6, cost)

    def mutual(self, cost: Array) -> NDArray[np.bool_]:
        """Which borders are the cheapest of both their regions."""
        order = np.lexsort((np.arange(len(cost)), cost))
        first = np.full(self.count, -1)
        a, b = self.pairs[order, 0], self.pairs[order, 1]
        # Written from the dearest to the cheapest, so that the cheapest stays.
        both = np.stack([a, b], axis=-1)[::-1].ravel()
        first[both] = np.repeat(order[::-1], 2)
        return (first[self.pairs[:, 0]] == np.arange(len(cost))) & (first[self.pairs[:, 1]] == np.arange(len(cost)))

    def merge(self, chosen: NDArray[np.bool_]) -> None:
        """Each chosen pair becomes one region."""
        new = np.arange(self.count)
        new[self.pairs[chosen, 1]] = self.pairs[chosen, 0]
        kept, back = np.unique(new, return_inverse=True)
        self.into = back[self.into]
        self.size = np.asarray(np.bincount(back, self.size, len(kept)), np.float64)
        self.sums = np.stack([np.bincount(back, self.sums[:, c], len(kept)) for c in range(self.sums.shape[1])], -1)
        pairs = back[self.pairs]
        apart = pairs[:, 0] != pairs[:, 1]
        low, high = pairs[apart].min(axis=1), pairs[apart].max(axis=1)
        keys, where = np.unique(low * len(kept) + high, return_inverse=True)
        self.lengths = np.asarray(np.bincount(where, self.lengths[apart], len(keys)), np.float64)
        self.pairs = np.stack([keys // len(kept), keys % len(kept)], axis=-1)
        self.count = len(kept)


def _renumbered(labels: NDArray[np.int64]) -> Labels:
    _, first, back = np.unique(labels, return_index=True, return_inverse=True)
    order = np.empty(len(first), np.int32)
    order[np.argsort(first)] = np.arange(len(first), dtype=np.int32)
    return order[back.reshape(labels.shape)]
