"""Silhouettes, sky or windows, and the ambience: what is told by level, place and what lies beside it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy import ndimage

from lookwright.arrays import Array

from .faces import Face
from .frame import Frame
from .merging import Labels
from .part import Mask, Part, graded

DARK_PERCENTS = (6.0, 12.0, 22.0)
"""Levels under which shapes are looked for; 15 and less is what is aimed at (common practice, no source)."""
LIT_SUBJECT = 0.2
"""Height of a face, as a share of the frame's, from which it is what the light is made for."""
BESIDE_STOPS = 1.6
"""How much brighter the ground must be on both sides."""
TALLEST_GAP = 0.34
"""Widest stretch of a row that may be a figure, as a share of the frame's width."""


def find_silhouettes(frame: Frame, not_here: Mask, subjects: Sequence[Face], most: int = 2) -> list[Part]:
    """Dark shapes before a brighter ground on both sides, the largest first.

    Looked for row by row: a dark stretch counts where what lies directly left and right of it is brighter. So the
    floor and the bench that a figure stands in stay out, though they are as dark. Where a face fills a good part of
    the frame, its own dark side, hair and shoulders are no silhouette.
    """
    not_here = not_here | _bodies(subjects, not_here.shape)
    luma = ndimage.median_filter(frame.luma, 5)
    seen = [part for level in DARK_PERCENTS for part in _silhouettes_under(frame, (luma <= level) & ~not_here)]
    seen.sort(key=lambda f: -f[0])
    kept: list[Part] = []
    for _, part in seen:
        if not any((part.mask & other.mask).any() for other in kept):
            kept.append(part)
    kept = kept[:most]
    if len(kept) > 1:
        kept = [Part(f"silhouette {'AB'[i]}", p.role, p.mask, p.sure, p.reason) for i, p in enumerate(kept)]
    return kept


def _bodies(subjects: Sequence[Face], shape: tuple[int, ...]) -> Mask:
    """Where the people are whose faces the light is made for: from above the head down, two heads wide at the least."""
    out = np.zeros(shape, bool)
    for face in subjects:
        x, y, w, h = face.box
        if h > LIT_SUBJECT:
            left, right = x - 0.9 * w, x + 1.9 * w
            columns = slice(max(0, int(left * shape[1])), max(0, int(right * shape[1])))
            out[max(0, int((y - 0.5 * h) * shape[0])) :, columns] = True
    return out


def _silhouettes_under(frame: Frame, dark: Mask) -> list[tuple[float, Part]]:
    """With their area, those among the dark places."""
    runs = ndimage.binary_opening(_runs_before_light(dark, frame.stops), iterations=2)
    pieces, _ = ndimage.label(runs)
    height = len(runs)
    found = []
    for i, where in enumerate(ndimage.find_objects(pieces), start=1):
        inner = pieces[where] == i
        tall, area = len(inner) / height, float(inner.sum() / runs.size)
        if tall < 0.13 or area < 0.005 or not _figure_like(inner) or where[0].start == 0:
            continue
        mask = pieces == i
        beside = ndimage.binary_dilation(mask, iterations=10) & ~ndimage.binary_dilation(mask, iterations=3)
        over = float(np.median(frame.stops[beside]) - np.median(frame.stops[mask]))
        if over < BESIDE_STOPS:
            continue
        margin = 0.35 * min(1.0, over / 4.0) + 0.4 * min(1.0, tall / 0.35) + 0.25 * min(1.0, area / 0.03)
        reason = f"a dark shape, {over:.1f} stops under the ground on both sides of it"
        found.append((area, Part("silhouette", "silhouette", mask, graded(margin), reason)))
    return found


def _figure_like(inner: Mask) -> bool:
    """Compact, no rectangle (a pane, a screen), and narrower at its top than below it, as a head is."""
    ring = float(inner.sum() - ndimage.binary_erosion(np.pad(inner, 1)).sum())
    compact = float(inner.sum()) / max(ring**2 / (4.0 * np.pi), 1.0)
    widths = inner.sum(axis=1)
    top = float(widths[: max(2, len(widths) // 25)].mean())
    return compact > 0.12 and float(inner.mean()) < 0.9 and top < 0.62 * float(widths.max())


def _runs_before_light(dark: Mask, stops: Array) -> Mask:
    height, width = dark.shape
    out = np.zeros_like(dark)
    gap, look = max(2, width // 240), max(4, width // 60)
    smooth = ndimage.uniform_filter1d(stops, look, axis=1)
    for y in range(height):
        row = dark[y].astype(np.int8)
        turn = np.diff(np.concatenate([[0], row, [0]]))
        for a, b in zip(np.flatnonzero(turn == 1), np.flatnonzero(turn == -1), strict=True):
            left, right = a - gap - look // 2, b + gap + look // 2
            if b - a > TALLEST_GAP * width or b - a < 0.01 * width or left < 0 or right >= width:
                continue
            own = float(np.mean(stops[y, a:b]))
            if min(smooth[y, left], smooth[y, right]) - own >= BESIDE_STOPS:
                out[y, a:b] = True
    return out


def find_sky(frame: Frame, labels: Labels, not_here: Mask) -> Part | None:
    """Sky, or a window that shows it: bright, smooth, cooler than the frame, at the top or framed by darkness."""
    height, width = labels.shape
    rough = ndimage.gaussian_gradient_magnitude(frame.luma, 1.5)
    cool_line = float(np.median(frame.lab[..., 2]))
    bright = float(np.percentile(frame.luma, 75.0))
    chosen = np.zeros(labels.shape, bool)
    margins: list[float] = []
    for i, where in enumerate(ndimage.find_objects(labels + 1)):
        if where is None:
            continue
        mask = labels == i
        area = float(mask.mean())
        if not 0.003 <= area < 0.8 or (mask & not_here).sum() > 0.2 * mask.sum():
            continue
        b = float(np.median(frame.lab[..., 2][mask]))
        level = float(np.median(frame.luma[mask]))
        texture = float(np.median(rough[mask]))
        rows = np.nonzero(mask.any(axis=1))[0]
        if texture > 1.0 or rows.mean() / height > 0.62:
            continue
        outdoors = where[0].start == 0 and level > max(55.0, bright) and area > 0.03 and texture < 0.5
        if outdoors and (b < -4.0 or level > 80.0):
            chosen |= mask
            margins.append(min(1.0, (level - 40.0) / 40.0) if b < -4.0 else 0.4)
            continue
        beside = ndimage.binary_dilation(mask, iterations=9) & ~ndimage.binary_dilation(mask, iterations=4)
        around = frame.luma[beside]
        filled = mask.sum() / max(1, (where[0].stop - where[0].start) * (where[1].stop - where[1].start))
        framed = float((around < 0.6 * level).mean()) if around.size else 0.0
        edges = where[0].start == 0 or where[1].start == 0 or where[1].stop == width
        if not edges and b < min(-6.0, cool_line - 4.0) and filled > 0.72 and framed > 0.6 and level > 25.0:
            chosen |= mask
            margins.append(min(0.6, framed - 0.2))
    if not margins:
        return None
    reason = "smooth, bright for this frame and cool, " + (
        "at the top of the frame" if chosen[: max(1, height // 100)].any() else "in a dark frame"
    )
    return Part("sky or window", "sky", chosen, graded(max(margins)), reason)


def find_ambience(frame: Frame, labels: Labels, not_here: Mask) -> Part | None:
    """The one ground that most of the frame is read against: the largest even surface of middle level.

    Zones of like level and colour that touch count as one ground.
    """
    rough = ndimage.gaussian_gradient_magnitude(frame.luma, 2.0)
    count = int(labels.max()) + 1
    size = np.bincount(labels.ravel(), minlength=count).astype(np.float64)
    blocked = np.bincount(labels.ravel(), not_here.ravel().astype(float), count) / size
    level, uneven, green_red, blue_yellow = _medians(labels, frame.luma, rough, frame.lab[..., 1], frame.lab[..., 2])
    fit = (size / labels.size > 0.012) & (blocked < 0.3) & (level > 12.0) & (level < 75.0) & (uneven < 1.3)
    if not fit.any():
        return None
    weight = np.where(fit, size * (1.3 - uneven) * np.minimum(level, 40.0) * _background(labels, count), 0.0)
    seed = int(np.argmax(weight))
    if size[seed] / labels.size < 0.025:
        return None
    alike = fit & (np.abs(level - level[seed]) < 7.0)
    alike &= np.hypot(green_red - green_red[seed], blue_yellow - blue_yellow[seed]) < 10.0
    mask = alike[labels] & ~not_here
    share = float(mask.mean())
    if share < 0.04:
        return None
    margin = 0.5 * min(1.0, share / 0.25) + 0.5 * (1.0 - float(uneven[seed]) / 1.3)
    reason = f"the largest even ground, {100 * share:.0f} % of the frame"
    return Part("ambience", "ambient", mask, graded(margin), reason)


def _medians(labels: Labels, *values: Array) -> list[Array]:
    """The median of each label, for each of the arrays; of every third pixel, which is enough for a zone."""
    flat = labels.ravel()[::3]
    order = np.argsort(flat, kind="stable")
    count = int(labels.max()) + 1
    starts = np.searchsorted(flat[order], np.arange(count + 1))
    out = []
    for value in values:
        sorted_by = value.ravel()[::3][order]
        parts = [sorted_by[a:b] for a, b in pairwise(starts)]
        out.append(np.array([np.median(p) if len(p) else 0.0 for p in parts]))
    return out


def _background(labels: Labels, count: int) -> Array:
    """More for zones that reach an edge of the frame other than the lower one, and lie high."""
    height = labels.shape[0]
    rows = np.repeat(np.arange(height)[:, None], labels.shape[1], axis=1)
    mean = np.bincount(labels.ravel(), rows.ravel(), count) / np.bincount(labels.ravel(), minlength=count)
    edge = np.zeros(count)
    for side in (labels[0], labels[:, 0], labels[:, -1]):
        edge[np.unique(side)] = 1.0
    return np.clip(1.4 - mean / height, 0.3, 1.2) * (0.8 + 0.4 * edge)
