"""Lamps in the picture, and how their glow falls off outward."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import ndimage

from lookwright.arrays import Array

from .frame import Frame
from .part import Mask, Part, graded

LEVELS = (98.0, 95.0, 91.0, 87.0, 83.0, 78.0, 73.0, 68.0, 62.0)
"""Percent of the frame's own brightest level at which bright spots are looked for, from the brightest down."""
LEAST_TOP = 82.0
"""Percent of signal: a lamp that is dimmer on the screen is not told from a bright surface."""
LEAST_STOPS = 1.6
"""Over the ring round it. A white surface lies 2.3 stops over a grey one in the same light; what tells a lamp from
paper is this together with its glow."""
EDGE_STOPS = 1.3
"""Over what lies directly beside it: a source ends at its edge, a reflection on varnish runs out into the surface."""
COOLEST = -9.0
"""CIELAB b* below which it is a pane with the sky in it, unless it is clipped."""
RAREST = 0.03
"""Share of the frame, besides the lamp, that may lie within an eighth of its level."""
SURFACE_GLOW = 1.0
"""Stops of glow asked for what clips in a finished frame: there white paper clips as lamps do."""
SMALLEST_SHADE = 0.0003
"""Share of the frame of a lamp that does not clip: a shade, not a bulb; smaller spots so dim are grains and glints."""
LARGEST, SMALLEST = 0.04, 0.00004
"""Shares of the frame."""
LEAST_SOLID = 0.75
"""Area over that of its ellipse of equal moments: lamps and shades are compact, gaps and reflections are not."""
DISTANCES = (0.4, 0.8, 1.3, 2.0, 3.0, 4.5, 6.0, 8.0, 11.0, 15.0)
"""Percent of the frame's width, from the lamp's edge outward."""
LEAST_FALL = 4.0
"""Percent of signal that the curve must fall in all to be printed: less is the wall's own unevenness."""
RISE, EDGE = 2.5, 18.0
"""Percent of signal from one distance to the next: a rise that ends the curve, and a drop that is no fall-off."""
_SECTORS = 24


@dataclass(frozen=True)
class FallOff:
    """Levels beside a lamp, from its edge outward, along the brightest quarter of the directions."""

    distances: tuple[float, ...]
    """Percent of the frame's width."""
    levels: tuple[float, ...]
    """Median percent of signal."""
    stops: tuple[float, ...]
    """Median stops of light from middle grey."""


@dataclass(frozen=True)
class Lamp:
    """A lamp, its glow, and the curve; None where nothing falls off."""

    part: Part
    glow: Mask
    """A ring just outside it, of its brightest quarter of directions."""
    fall_off: FallOff | None


def find_lamps(frame: Frame, not_here: Mask, most: int = 5) -> list[Lamp]:
    """Lamps, the most certain first; ``not_here`` are faces."""
    luma = ndimage.median_filter(frame.luma, 3)
    counts = np.sort(luma, axis=None)
    glare = _smoothed(frame.stops)
    top = float(np.percentile(luma, 99.95))
    if top < LEAST_TOP:
        return []
    seen: list[tuple[float, Part]] = []
    for share in LEVELS:
        pieces, _ = ndimage.label(luma >= share * top / 100.0)
        for i, where in enumerate(ndimage.find_objects(pieces), start=1):
            scored = _candidate(frame, luma, glare, pieces, i, where, not_here)
            if scored is not None:
                seen.append(scored)
    seen.sort(key=lambda f: -f[0])
    found: list[tuple[float, Part]] = []
    taken = np.zeros(luma.shape, bool)
    for margin, part in seen:
        if not (part.mask & taken).any():
            taken |= ndimage.binary_dilation(part.mask, iterations=6)
            if _rare(counts, luma, part.mask):
                found.append((margin, part))
    if len(found) > most:  # glints, stars, a pattern: nothing tells a lamp among so many
        found = []
    kept = [part for margin, part in found if margin >= 0.0]
    everything = not_here | np.any([p.mask for p in kept], axis=0) if kept else not_here
    lamps = []
    for i, part in enumerate(kept):
        name = "lamp" if len(kept) == 1 else f"lamp {'ABCDE'[i]}"
        named = Part(name, "lamp", part.mask, part.sure, part.reason)
        lamps.append(Lamp(named, *_outward(frame, part.mask, everything)))
    return lamps


def _rare(counts: Array, luma: Array, mask: Mask) -> bool:
    """Whether little else in the frame is nearly as bright: a lamp stands out, a white thing in the sun does not."""
    level = 0.88 * float(np.median(luma[mask]))
    brighter = (len(counts) - float(np.searchsorted(counts, level))) / len(counts)
    return brighter - float(mask.mean()) < RAREST


def _smoothed(stops: Array) -> Array:
    return ndimage.gaussian_filter(stops, 1.5)


def _candidate(
    frame: Frame, luma: Array, glare: Array, pieces: Array, i: int, where: tuple[slice, slice], taken: Mask
) -> tuple[float, Part] | None:
    """How good a lamp a bright piece makes, and the part; None for none."""
    inner = pieces[where] == i
    count = int(inner.sum())
    if not SMALLEST * luma.size <= count <= LARGEST * luma.size or (inner & taken[where]).any():
        return None
    level = float(np.percentile(luma[where][inner], 90.0))
    if level < LEAST_TOP or _solid(inner) < LEAST_SOLID:
        return None
    if level < 97.0 and float(np.median(frame.lab[where][..., 2][inner])) < COOLEST:
        return None
    reach = max(4, round(0.9 * float(np.sqrt(count))))
    box = tuple(slice(max(0, s.start - 3 * reach), s.stop + 3 * reach) for s in where)
    mask = pieces[box] == i
    away = ndimage.distance_transform_edt(~mask)
    near, far = (away > 2) & (away <= 0.6 * reach + 2), (away > 1.2 * reach + 2) & (away <= 2.4 * reach + 2)
    if near.sum() < 8 or far.sum() < 8:
        return None
    stops = glare[box]
    inside = float(np.median(frame.stops[box][mask]))
    over = inside - float(np.median(stops[near]))
    over_far = inside - float(np.percentile(stops[far], 75.0))
    # Glow: the brighter half round it is brighter near than far, in most of the round.
    glow = float(np.percentile(stops[near], 75.0) - np.percentile(stops[far], 75.0))
    edge = inside - float(np.median(frame.stops[box][(away > 2) & (away <= 4)]))
    if over_far < LEAST_STOPS or over < 0.7 or edge < EDGE_STOPS:
        return None
    clipped = level >= 97.0
    if glow < (0.0 if clipped else 0.45):
        return None
    weak = clipped and frame.estimated and glow < SURFACE_GLOW  # no lamp, but one of the crowd it may be lost in
    if not clipped and count < SMALLEST_SHADE * luma.size:
        return None
    margin = min(1.0, 0.3 * (over_far - LEAST_STOPS)) * 0.5 + 0.35 * np.clip(glow / 1.5, 0.0, 1.0) + 0.15 * clipped
    if margin < 0.3:
        return None
    whole = np.zeros(luma.shape, bool)
    whole[box] = mask
    reason = (
        f"{level:.0f} % of signal, {over_far:.1f} stops over what is round it, and a glow of {max(glow, 0):.1f} stops"
    )
    return -1.0 if weak else float(margin), Part("lamp", "lamp", whole, graded(1.3 * margin), reason)


def _solid(mask: Mask) -> float:
    """Area over that of the ellipse with the same second moments: 1 for an ellipse, 0.95 for a rectangle."""
    rows, columns = np.nonzero(mask)
    if len(rows) < 3:
        return 1.0
    spread = np.cov(np.stack([rows, columns]).astype(np.float64)) + np.eye(2) / 12.0
    return float(len(rows) / (4.0 * np.pi * np.sqrt(max(np.linalg.det(spread), 1e-12))))


def _outward(frame: Frame, mask: Mask, lamps: Mask) -> tuple[Mask, FallOff | None]:
    """The glow beside a lamp and its fall-off, along the brightest quarter of the directions."""
    height, width = mask.shape
    away = _distance(mask) * (100.0 / width)
    rows, columns = np.nonzero(mask)
    y, x = np.mgrid[:height, :width]
    turn = np.arctan2(y - rows.mean(), x - columns.mean())
    sector = ((turn + np.pi) * (_SECTORS / (2.0 * np.pi))).astype(int) % _SECTORS
    free = ~ndimage.binary_dilation(lamps, iterations=2)
    near = free & (away > 0.25) & (away < 3.0)
    brightness = np.full(_SECTORS, -np.inf)
    for i in range(_SECTORS):
        here = near & (sector == i)
        if here.sum() >= 8:
            brightness[i] = np.median(frame.luma[here])
    chosen = np.argsort(-brightness, kind="stable")[: _SECTORS // 4]
    chosen = chosen[np.isfinite(brightness[chosen])]
    along = free & np.isin(sector, chosen)
    edges = [0.2, *(0.5 * (a + b) for a, b in pairwise(DISTANCES)), 19.0]
    curve = []
    for middle, low, high in zip(DISTANCES, edges, edges[1:], strict=False):
        ring = along & (away >= low) & (away < high)
        if ring.sum() >= 6:
            curve.append((middle, float(np.median(frame.luma[ring])), float(np.median(frame.stops[ring]))))
    glow = along & (away > 0.25) & (away < 1.6)
    return glow, _falling(curve)


def _distance(mask: Mask) -> Array:
    """Pixels from the mask, out to a fifth of the width; beyond that, infinity."""
    reach = mask.shape[1] // 5
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    box = (
        slice(max(0, int(rows[0]) - reach), int(rows[-1]) + reach),
        slice(max(0, int(columns[0]) - reach), int(columns[-1]) + reach),
    )
    out = np.full(mask.shape, np.inf)
    out[box] = ndimage.distance_transform_edt(~mask[box])
    return out


def _falling(curve: list[tuple[float, float, float]]) -> FallOff | None:
    """The curve as far as it falls; None where it does not.

    It ends where the level rises again, and where it drops at once as at the edge of another surface.
    """
    kept = curve[:1]
    for point in curve[1:]:
        drop = kept[-1][1] - point[1]
        if drop < -RISE or (len(kept) > 2 and drop > EDGE):
            break
        kept.append(point)
    if len(kept) < 3 or kept[0][1] - min(c[1] for c in kept) < LEAST_FALL:
        return None
    distances, percent, stops = zip(*kept, strict=True)
    return FallOff(distances, percent, stops)
