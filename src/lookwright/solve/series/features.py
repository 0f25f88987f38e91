"""What two frames share, found without boxes: features, planes through them, and the surfaces that fit on them.

Features are SIFT (Lowe 2004) by scikit-image, an optional extra: a picture library's own, well kept, and a tenth of
what the usual alternative weighs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates, uniform_filter, zoom

from lookwright.arrays import Array
from lookwright.errors import LookwrightError
from lookwright.installed import how_to_get

from .match import FLOOR, log2_light
from .planes import FEWEST, planes, through

WIDTH = 512
"""Pixels of the longer side that are looked at: as many features as a match needs, in half a second a frame."""

WINDOW = 15
"""Pixels across a patch."""

ALIKE = 0.8
"""Correlation of two patches from which on they show one surface."""

SOFT_WINDOW = 31
SOFT_ALIKE = 0.9
"""The same of large, soft shapes, which look more alike."""


@dataclass(frozen=True)
class Seen:
    """A frame made ready: ``stops`` (h, w, 3) log2 light, ``shape`` (h, w) with the light taken out, its features."""

    stops: Array
    shape: Array
    soft: Array
    """(h, w) the same of what is large: it holds where a wall is smooth or out of focus, and noise hides the rest."""
    places: Array
    """(n, 2) row and column of each feature."""
    words: NDArray[np.uint8]
    """(n, 128) descriptors."""
    sizes: Array
    """(n,) pixels."""
    turns: Array
    """(n,) radians."""

    @property
    def size(self) -> tuple[int, int]:
        """Height and width."""
        return int(self.shape.shape[0]), int(self.shape.shape[1])


@dataclass(frozen=True)
class Shared:
    """Surfaces seen in both frames, n of them."""

    first: Array
    """(n, 3) linear scene light in the first frame."""
    second: Array
    at_first: Array
    """(n, 2) x and y from the middle, in half widths."""
    at_second: Array


def available() -> bool:
    """Whether the extra is installed."""
    from importlib.util import find_spec

    return find_spec("skimage") is not None


def look(scene: Array) -> Seen:
    """Prepare a frame of scene light (H, W, 3), linear ACEScg.

    Raises :class:`LookwrightError` without the extra ``matching``.
    """
    if not available():
        raise LookwrightError("series", "the extra 'matching' is not installed", hint=how_to_get("matching"))
    from skimage.feature import SIFT

    small = _small(np.nan_to_num(np.asarray(scene, np.float32), nan=0.0, posinf=0.0, neginf=0.0))
    stops = log2_light(small)
    grey = stops.mean(axis=2)
    shape, soft = _shape(grey, 0.0, 8.0), _shape(grey, 2.5, 20.0)
    sift = SIFT(c_dog=0.008)
    try:
        sift.detect_and_extract(np.clip(shape / 6.0 + 0.5, 0.0, 1.0))
    except RuntimeError:  # the library's word for a picture without a feature
        return Seen(stops, shape, soft, np.zeros((0, 2)), np.zeros((0, 128), np.uint8), np.zeros(0), np.zeros(0))
    places = np.asarray(sift.keypoints, np.float64)
    return Seen(stops, shape, soft, places, sift.descriptors, sift.scales, sift.orientations)


def _small(scene: Array) -> Array:
    """The longer side at most WIDTH: means of blocks, then a little by interpolation."""
    every = max(1, max(scene.shape[:2]) // WIDTH)
    h, w = scene.shape[0] // every, scene.shape[1] // every
    blocks = scene[: h * every, : w * every].reshape(h, every, w, every, 3).mean(axis=(1, 3))
    rest = WIDTH / max(h, w)
    return blocks if rest >= 0.99 else np.asarray(zoom(blocks, (rest, rest, 1.0), order=1))


def _shape(grey: Array, fine: float, coarse: float) -> Array:
    """Exposure, and light that falls off slowly, taken out: each pixel against its surroundings, in their spread."""
    sharp = gaussian_filter(grey, fine) if fine else grey
    local = sharp - gaussian_filter(grey, coarse)
    spread = np.sqrt(gaussian_filter(local**2, 1.5 * coarse))
    return np.asarray(local / (spread + 0.08))


def shared(first: Seen, second: Seen) -> Shared | None:
    """The surfaces both frames show; None when no plane of features is found in both."""
    found = _planes(first, second)
    if not found:
        return None
    height, width = second.size
    rows, columns = np.mgrid[:height, :width].astype(np.float64)
    best, place = np.full((height, width), -1.0), np.zeros((height, width, 2))
    for matrix, members in found:
        at = np.stack(through(matrix, columns, rows)[::-1], axis=-1)
        inside = _inside(at, first.size)
        fine = _likeness(first.shape, second.shape, at, WINDOW)
        large = _likeness(first.soft, second.soft, at, SOFT_WINDOW)
        # On one scale: ALIKE of either is as good as of the other.
        likeness = np.where(inside, np.maximum(fine, large - (SOFT_ALIKE - ALIKE)), -1.0)
        likeness[~_near(members, likeness > ALIKE - 0.15, (height, width))] = -1.0
        better = likeness > best
        best[better], place[better] = likeness[better], at[better]
    return _patches(first, second, best, place)


def _planes(first: Seen, second: Seen) -> list[tuple[Array, Array]]:
    """Homographies from the second frame to the first, each with its features (rows, columns) in the second."""
    from skimage.feature import match_descriptors

    if min(len(first.places), len(second.places)) < FEWEST:
        return []
    pairs = match_descriptors(first.words, second.words, cross_check=True, max_ratio=0.95)
    i, j = pairs[:, 0], pairs[:, 1]
    a, b = first.places[i][:, ::-1], second.places[j][:, ::-1]
    found = planes(a, b, first.sizes[i] / second.sizes[j], second.turns[j] - first.turns[i])
    return [(matrix, b[inside][:, ::-1]) for matrix, inside in found]


def _inside(at: Array, size: tuple[int, int]) -> NDArray[np.bool_]:
    half = WINDOW // 2
    inside = (at > half) & (at < np.array(size) - 1 - half)
    return np.asarray(inside.all(axis=-1))


def _likeness(first: Array, second: Array, at: Array, window: int) -> Array:
    """(h, w) correlation of the patch round each pixel with what lies ``at`` that place in the first frame."""
    a, b = map_coordinates(first, np.moveaxis(at, -1, 0), order=1, mode="nearest"), second
    mean_a, mean_b = uniform_filter(a, window), uniform_filter(b, window)
    var_a = np.maximum(uniform_filter(a * a, window) - mean_a**2, 0.0)
    var_b = np.maximum(uniform_filter(b * b, window) - mean_b**2, 0.0)
    both = uniform_filter(a * b, window) - mean_a * mean_b
    return np.asarray(both / np.sqrt(var_a * var_b + 0.01))


def _near(members: Array, alike: NDArray[np.bool_], size: tuple[int, int]) -> NDArray[np.bool_]:
    """Grown from the plane's features to neighbours as long as these are alike."""
    from scipy.ndimage import label

    seeds = np.zeros(size, bool)
    at = np.clip(np.round(members).astype(int), 0, np.array(size) - 1)
    seeds[at[:, 0], at[:, 1]] = True
    seeds = uniform_filter(seeds.astype(np.float64), 2 * WINDOW + 1) > 0
    regions, _ = label(alike)
    kept = np.unique(regions[seeds & alike])
    return np.isin(regions, kept[kept > 0])


def _medians(values: Array) -> Array:
    """Over the last axis, whose length is odd: of what lies side by side in memory, several times as quick as the
    library's over any axis."""
    half = values.shape[-1] // 2
    return np.partition(np.ascontiguousarray(values), half, axis=-1)[..., half]


def _patches(first: Seen, second: Seen, best: Array, place: Array) -> Shared | None:
    """Medians over patches on a grid of half overlap, where the likeness is high enough."""
    step, half = WINDOW // 2 + 1, WINDOW // 2
    height, width = second.size
    ys, xs = np.meshgrid(np.arange(half, height - half, step), np.arange(half, width - half, step), indexing="ij")
    keep = best[ys, xs] >= ALIKE
    ys, xs = ys[keep], xs[keep]
    if ys.size == 0:
        return None
    warped = np.stack(
        [map_coordinates(first.stops[..., c], np.moveaxis(place, -1, 0), order=1, mode="nearest") for c in range(3)], -1
    )
    offsets = np.arange(-half, half + 1)
    rows, columns = ys[:, None, None] + offsets[:, None], xs[:, None, None] + offsets[None, :]
    a, b = (f[rows, columns].reshape(len(ys), -1, 3).transpose(0, 2, 1) for f in (warped, second.stops))
    middle, apart = _medians(a), _medians(b - a)
    high_a, wide_a = first.size
    at_first = (place[ys, xs][:, ::-1] - [wide_a / 2, high_a / 2]) / (wide_a / 2)
    at_second = (np.stack([xs, ys], axis=1) - [width / 2, height / 2]) / (width / 2)
    return Shared(2.0**middle - FLOOR, 2.0 ** (middle + apart) - FLOOR, at_first, at_second)
