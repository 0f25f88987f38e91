"""The lit and the shaded side of a face, its forehead and its cheeks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from lookwright.arrays import Array

from .faces import Face
from .frame import Frame
from .part import Mask, Part, graded
from .partition import otsu

LEAST_STOPS = 0.7
"""Apart less than this, the two sides are one: skin itself varies so (common practice, no source)."""
LEAST_SIDE = 0.1
"""Of the face; a smaller part is a highlight or a nostril."""
SMALLEST = 26.0
"""Pixels between the eyes' line and the mouth, in the small frame, below which a face has no sides to be read."""


@dataclass(frozen=True)
class Sides:
    """What was read of one face."""

    parts: tuple[Part, ...]
    """Lit side, shaded side (or one evenly lit face)."""
    places: tuple[tuple[str, tuple[float, float, float, float]], ...]
    """Forehead and cheeks by name, as boxes in fractions of the frame."""


def sides_of(face: Face, frame: Frame, name: str) -> Sides:
    """The sides of a face; ``name`` begins their names, e.g. ``face``."""
    mask = skin_mask(face, frame.luma.shape)
    places = _places(face, frame)
    cut = min(face.box[0], face.box[1]) < 0.002 or max(face.box[0] + face.box[2], face.box[1] + face.box[3]) > 0.998
    if not mask.any() or cut or _eyes_to_mouth(face, frame) < SMALLEST:
        why = "cut by the frame's edge" if cut else "too small to read its sides"
        reason = f"a face (score {face.score:.2f}), {why}"
        whole = mask if mask.any() else _ellipse(face, frame.luma.shape)
        return Sides((Part(name, "skin", whole, graded(2.0 * (face.score - 0.4)), reason),), ())
    stops = ndimage.median_filter(frame.stops, 3)
    inside = stops[mask]
    inside = np.clip(inside, *np.percentile(inside, [1.0, 99.0]))
    border = otsu(inside)
    lit, shaded = mask & (stops > border), mask & (stops <= border)
    lit, shaded = _largest(lit), _largest(shaded)
    share = min(lit.sum(), shaded.sum()) / mask.sum()
    apart = float(np.median(stops[lit]) - np.median(stops[shaded])) if share > 0 else 0.0
    if apart < LEAST_STOPS or share < LEAST_SIDE:
        reason = f"a face (score {face.score:.2f}) without two sides of light: {apart:.1f} stops apart"
        return Sides((Part(name, "key", mask, graded(2.0 * (face.score - 0.4)), reason),), places)
    sure = graded(min(2.0 * (face.score - 0.4), apart / 2.0))
    reason = f"a face (score {face.score:.2f}) whose two sides lie {apart:.1f} stops apart"
    core_lit, core_shaded = _core(lit, stops, True), _core(shaded, stops, False)
    return Sides(
        (
            Part(f"{name}, lit side", "key", core_lit, sure, reason),
            Part(f"{name}, shaded side", "fill", core_shaded, sure, reason),
        ),
        places,
    )


def _core(side: Mask, stops: Array, bright: bool) -> Mask:
    """The side without its passage to the other: the brighter (or darker) half of it."""
    edge = np.percentile(stops[side], 50.0)
    core = side & (stops >= edge if bright else stops <= edge)
    return core if core.any() else side


def _largest(mask: Mask) -> Mask:
    """The mask without specks: pieces of a fifth of the largest or more."""
    pieces, count = ndimage.label(ndimage.binary_opening(mask, iterations=1))
    if not count:
        return mask
    size = np.bincount(pieces.ravel())
    size[0] = 0
    return np.isin(pieces, np.flatnonzero(size >= 0.2 * size.max()))


def _eyes_to_mouth(face: Face, frame: Frame) -> float:
    points = np.asarray(face.points) * frame.luma.shape[::-1]
    return float(np.linalg.norm(points[:2].mean(axis=0) - points[3:].mean(axis=0)))


def _ellipse(face: Face, shape: tuple[int, ...]) -> Mask:
    height, width = shape[:2]
    rows, columns = np.mgrid[:height, :width]
    x, y, w, h = face.box
    u = ((columns + 0.5) / width - x - w / 2.0) / (w / 2.0)
    v = ((rows + 0.5) / height - y - h / 2.0) / (h / 2.0)
    return np.asarray(u * u + v * v <= 1.0)


def skin_mask(face: Face, shape: tuple[int, ...]) -> Mask:
    """Where a face shows bare skin: from the brow to the mouth, within its ellipse; hair, beard and neck left out."""
    height, width = shape[:2]
    points = np.asarray(face.points) * (width, height)
    eyes, mouth = points[:2].mean(axis=0), points[3:].mean(axis=0)
    down = mouth - eyes
    length = float(np.linalg.norm(down))
    if length < 1.0:
        return np.zeros((height, width), bool)
    down /= length
    rows, columns = np.mgrid[:height, :width]
    along = (columns + 0.5 - eyes[0]) * down[0] + (rows + 0.5 - eyes[1]) * down[1]
    inner = _ellipse(face, shape) & (along > -0.62 * length) & (along < 1.02 * length)
    return ndimage.binary_erosion(inner, iterations=max(1, round(0.06 * length)))


def _places(face: Face, frame: Frame) -> tuple[tuple[str, tuple[float, float, float, float]], ...]:
    """Forehead above the middle of the eyes, cheeks between each eye and its corner of the mouth."""
    size = np.asarray(frame.luma.shape[1::-1], np.float64)
    left, right, _, mouth_left, mouth_right = np.asarray(face.points) * size
    middle = (left + right) / 2.0
    down = (mouth_left + mouth_right) / 2.0 - middle
    half = 0.14 * float(np.linalg.norm(down))
    wanted = (
        ("forehead", middle - 0.5 * down),
        ("cheek, left in frame", 0.5 * (left + mouth_left)),
        ("cheek, right in frame", 0.5 * (right + mouth_right)),
    )
    out = []
    for name, centre in wanted:
        low, high = (centre - half) / size, (centre + half) / size
        if (low > 0.0).all() and (high < 1.0).all():
            out.append((name, (float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))))
    return tuple(out)
