"""The zones of a frame: regions of like level and colour, at most sixty."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from lookwright.arrays import Array

from .frame import WIDTH, Frame
from .merging import Labels, merged

SCALE = 1500.0
"""lambda of the merging at 960 pixels: percent squared times pixels, per pixel of border. A border between two halves
of a wall of 200 x 200 pixels each then stands for 4 % of signal or more."""
COLOUR_WEIGHT = 0.5
"""A unit of CIELAB a* or b* against one percent of signal: half, for a light meter tells levels and not surfaces."""
MOST_ZONES = 60
LEAST_SHARE = 0.0004
"""Of the frame; smaller regions join a neighbour. About 14 by 14 pixels at 960 x 540: a bulb in a wide frame."""
_MEDIAN = 5


def _smooth(values: Array, low: float, high: float) -> NDArray[np.float32]:
    """A median over 5 x 5, of 8-bit codes for speed: a 250th of the range."""
    from PIL import Image, ImageFilter

    codes = np.clip((values - low) * (255.0 / (high - low)), 0.0, 255.0).astype(np.uint8)
    out = np.asarray(Image.fromarray(codes).filter(ImageFilter.MedianFilter(_MEDIAN)), np.float32)
    return out * np.float32((high - low) / 255.0) + np.float32(low)


def features(frame: Frame) -> NDArray[np.float32]:
    """(h, w, 3) level in percent, and a* and b* at half weight, without texture and noise."""
    a, b = (COLOUR_WEIGHT * _smooth(frame.lab[..., i], -100.0, 100.0) for i in (1, 2))
    return np.stack([_smooth(frame.luma, 0.0, 100.0), a, b], axis=-1)


def partition(frame: Frame, scale: float = SCALE, most: int = MOST_ZONES) -> Labels:
    """(h, w) labels from 0, at most ``most`` of them.

    A watershed (scipy's image foresting transform) on the gradient of level and colour, from every place where that is
    least, then merging by Koepfler, Lopez and Morel. ``scale`` holds at 960 pixels and moves with the frame's size.
    """
    values = features(frame)
    first = _watershed(values)
    grown = max(frame.luma.shape) / WIDTH
    least = round(LEAST_SHARE * frame.luma.size)
    return merged(first, np.asarray(values, np.float64), scale * grown, most, least)


def otsu(values: Array) -> float:
    """The value that parts these in two with the least squared error within both, of 64 tried evenly (Otsu 1979)."""
    low, high = float(values.min()), float(values.max())
    if high <= low:
        return high
    counts, edges = np.histogram(values, 64, (low, high))
    middle = 0.5 * (edges[:-1] + edges[1:])
    below, total = np.cumsum(counts), float(counts.sum())
    moment = np.cumsum(counts * middle)
    with np.errstate(divide="ignore", invalid="ignore"):
        between = (moment[-1] * below / total - moment) ** 2 / (below * (total - below))
    return float(edges[1 + int(np.nanargmax(between[:-1]))])


def _watershed(values: NDArray[np.float32]) -> Labels:
    slope = np.zeros(values.shape[:2], np.float32)
    for c in range(values.shape[-1]):
        for axis in (0, 1):
            slope += ndimage.gaussian_filter1d(values[..., c], 1.0, axis=axis, order=1) ** 2
    slope = np.sqrt(slope)
    height = np.minimum(slope * 400.0, 65535.0).astype(np.uint16)
    low = ndimage.minimum_filter(height, 7)
    seeds, _ = ndimage.label((height == low) | (height <= 40), np.ones((3, 3), int))
    flooded = ndimage.watershed_ift(height, seeds.astype(np.int32), np.ones((3, 3), int))
    return np.asarray(flooded - 1, np.int32)
