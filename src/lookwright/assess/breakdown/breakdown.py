"""The whole of a frame taken apart: zones with what each reads, the parts they play, and the ratios between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from scipy import ndimage

from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.signal import SCENE_PRIMARIES

from .face_parts import Sides, sides_of
from .faces import Face
from .frame import Frame
from .grounds import find_ambience, find_silhouettes, find_sky
from .lamps import FallOff, Lamp, find_lamps
from .merging import Labels
from .part import Mask, Part, Sure, box_round, innermost
from .partition import MOST_ZONES, partition
from .spoken import Spoken, spoken
from .warmth import Warmth, warmth_of

DARKEST_WARMTH = 8.0
"""Percent of signal under which a colour says nothing of the light: noise and flare make it."""
LEAST_SHARE = 0.02
"""Share of the frame that a zone without a role must have to be told."""
SMALL_FACE = 0.02
"""Of the frame's height; a face that is smaller is not one of the scene's subjects."""


@dataclass(frozen=True)
class Zone:
    """One zone of the frame and what it reads."""

    number: int
    """From 1, as on the map."""
    name: str
    """Its part, or where it lies."""
    role: str | None
    sure: Sure | None
    """How sure the role is; None where there is none."""
    reason: str
    level: float
    """Median percent of the shown signal."""
    low: float
    high: float
    """10th and 90th percentile of it."""
    light: float
    """Median luminance of the scene, 0.18 = middle grey."""
    stops: float
    """Stops of that light from middle grey."""
    from_key: float | None
    """Stops from the key side of the face; None where no face was found."""
    warmth: Warmth | None
    """Of its colour, light times surface, against the white; None in the dark and for strong colours."""
    share: float
    """Of the frame, 0..1."""
    place: tuple[float, float]
    """x, y of its innermost point, fractions of the frame."""
    box: tuple[float, float, float, float]
    """A box well inside it, for a mark."""
    scene: tuple[float, float, float]
    """Median scene light, linear ACEScg."""


@dataclass(frozen=True)
class Ratio:
    """Two zones against each other."""

    first: str
    second: str
    ratio: Spoken


@dataclass(frozen=True)
class Breakdown:
    """What a frame is made of."""

    frame: Frame
    labels: Labels
    """(h, w) number of the zone of each pixel, from 1."""
    zones: tuple[Zone, ...]
    """The named ones first, then by area."""
    faces: tuple[Face, ...]
    sides: tuple[Sides, ...]
    """Of each of the faces."""
    looked_for_faces: bool
    lamps: tuple[tuple[str, FallOff], ...]
    """Fall-off of each lamp that has one."""
    ratios: tuple[Ratio, ...]

    def named(self) -> list[Zone]:
        """The zones that have a role."""
        return [z for z in self.zones if z.role is not None]

    def unnamed(self) -> list[Zone]:
        """The zones without a role that are large enough to be told, the largest first."""
        return [z for z in self.zones if z.role is None and z.share >= LEAST_SHARE]

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return {
            "estimated": self.frame.estimated,
            "zones": [asdict(z) for z in self.zones],
            "faces": [asdict(f) for f in self.faces],
            "looked_for_faces": self.looked_for_faces,
            "fall_off": {name: asdict(curve) for name, curve in self.lamps},
            "ratios": [{"first": r.first, "second": r.second, **asdict(r.ratio)} for r in self.ratios],
        }


def break_down(frame: Frame, faces: Sequence[Face] | None) -> Breakdown:
    """Take a frame apart; ``faces`` are those found in it, None where nobody looked for any."""
    shape = frame.luma.shape
    subjects = [f for f in faces or () if f.box[3] >= SMALL_FACE][:6]
    sides = [sides_of(f, frame, "face" if len(subjects) == 1 else f"face {i}") for i, f in enumerate(subjects, 1)]
    face_mask = _heads(subjects, shape)
    lamps = find_lamps(frame, face_mask)
    cut_out = [p for s in sides for p in s.parts] + [lamp.part for lamp in lamps]
    labels = partition(frame, most=MOST_ZONES - len(cut_out) - 2)
    taken = face_mask | _any([lamp.part.mask for lamp in lamps], shape)
    silhouettes = find_silhouettes(frame, _any([lamp.part.mask for lamp in lamps], shape), subjects)
    sky = find_sky(frame, labels, taken)
    busy = taken | _any([s.mask for s in silhouettes], shape) | (sky.mask if sky else False)
    ambience = find_ambience(frame, labels, busy)
    whole = [p for p in (sky, ambience, *silhouettes) if p is not None]
    return _assembled(frame, labels, [*whole, *cut_out], subjects, sides, faces is not None, lamps)


def _any(masks: Sequence[Mask], shape: tuple[int, ...]) -> Mask:
    out = np.zeros(shape, bool)
    for mask in masks:
        out |= mask
    return out


def _heads(faces: Sequence[Face], shape: tuple[int, ...]) -> Mask:
    out = np.zeros(shape, bool)
    for face in faces:
        x, y, w, h = face.box
        top, bottom = int(y * shape[0]), int((y + h) * shape[0]) + 1
        out[top:bottom, int(x * shape[1]) : int((x + w) * shape[1]) + 1] = True
    return out


def _assembled(
    frame: Frame,
    labels: Labels,
    parts: Sequence[Part],
    faces: Sequence[Face],
    sides: Sequence[Sides],
    looked: bool,
    lamps: Sequence[Lamp],
) -> Breakdown:
    """Parts laid over the zones, the smaller over the larger; what is left of a zone stays one."""
    work = labels.astype(np.int64) + 1
    first = int(work.max())
    ordered = sorted(parts, key=lambda p: -int(p.mask.sum()))
    for i, part in enumerate(ordered, start=first + 1):
        work[part.mask] = i
    least = max(12, round(0.0003 * work.size))
    work = _without_specks(work, first, least)
    key = next((p for p in parts if p.role == "key"), None)
    key_stops = None if key is None else float(np.median(frame.stops[key.mask]))
    glows = {lamp.part.name: lamp.glow for lamp in lamps}
    zones: list[Zone] = []
    numbers = np.zeros(int(work.max()) + 1, np.int32)
    sizes = np.bincount(work.ravel(), minlength=len(numbers))
    named = [first + 1 + ordered.index(p) for p in sorted(parts, key=_rank)]
    rest = sorted((i for i in range(1, first + 1) if sizes[i]), key=lambda i: -sizes[i])
    used: dict[str, int] = {}
    for i in [n for n in named if sizes[n]] + rest:
        mask = work == i
        role = ordered[i - first - 1] if i > first else None
        numbers[i] = len(zones) + 1
        zones.append(_zone(len(zones) + 1, frame, mask, role, key_stops, glows, used))
    curves = tuple((lamp.part.name, lamp.fall_off) for lamp in lamps if lamp.fall_off is not None)
    ratios = _ratios(zones, [(lamp.part.name, lamp.glow) for lamp in lamps], frame)
    return Breakdown(frame, numbers[work], tuple(zones), tuple(faces), tuple(sides), looked, curves, tuple(ratios))


def _rank(part: Part) -> int:
    return ["key", "fill", "skin", "lamp", "ambient", "silhouette", "sky"].index(part.role)


def _without_specks(work: Any, first: int, least: int) -> Any:
    """Crumbs that a part has left of a zone go to the zone beside them."""
    sizes = np.bincount(work.ravel(), minlength=first + 1)
    crumbs = np.flatnonzero((sizes > 0) & (sizes < least))
    crumbs = crumbs[crumbs <= first]
    lost = np.isin(work, crumbs)
    if not lost.any() or lost.all():
        return work
    nearest = ndimage.distance_transform_edt(lost, return_distances=False, return_indices=True)
    return work[tuple(nearest)]


def _zone(
    number: int,
    frame: Frame,
    mask: Mask,
    part: Part | None,
    key_stops: float | None,
    glows: dict[str, Mask],
    used: dict[str, int],
) -> Zone:
    luma, stops = frame.luma[mask], frame.stops[mask]
    low, level, high = np.percentile(luma, [10.0, 50.0, 90.0])
    row, column, depth = innermost(mask)
    height, width = mask.shape
    place = ((column + 0.5) / width, (row + 0.5) / height)
    name = part.name if part is not None else _where(place, used)
    scene = np.median(frame.scene[mask], axis=0)
    middle = float(np.median(stops))
    # A lamp's own light is clipped or nearly so; its colour is read from its glow.
    glow = glows.get(name)
    seen = frame.scene[glow].mean(axis=0) if glow is not None and glow.any() else frame.scene[mask].mean(axis=0)
    return Zone(
        number,
        name,
        None if part is None else part.role,
        None if part is None else part.sure,
        "" if part is None else part.reason,
        float(level),
        float(low),
        float(high),
        float(0.18 * 2.0**middle),
        middle,
        None if key_stops is None else middle - key_stops,
        warmth_of(seen) if level >= DARKEST_WARMTH else None,
        float(mask.mean()),
        place,
        box_round(row, column, depth, mask.shape),
        (float(scene[0]), float(scene[1]), float(scene[2])),
    )


def _where(place: tuple[float, float], used: dict[str, int]) -> str:
    """``upper left``, and so on; counted where there are more of them."""
    x, y = place
    row = "upper" if y < 0.36 else "lower" if y > 0.64 else "middle"
    column = "left" if x < 0.36 else "right" if x > 0.64 else "centre"
    name = f"{row} {column}"
    used[name] = used.get(name, 0) + 1
    return name if used[name] == 1 else f"{name} {used[name]}"


def _ratios(zones: Sequence[Zone], glows: Sequence[tuple[str, Mask]], frame: Frame) -> list[Ratio]:
    """Key over fill of each face, key over ambience, ambience over silhouette, glow over ambience."""

    def pair(a: Zone, b: Zone, lamps: bool = False) -> Ratio:
        return Ratio(a.name, b.name, spoken(a.level, b.level, a.light, b.light, lamps))

    keys = [z for z in zones if z.role == "key"]
    fills = [z for z in zones if z.role == "fill"]
    grounds = [z for z in zones if z.role == "ambient"]
    out = [pair(k, f, True) for k in keys for f in fills if k.name.split(",")[0] == f.name.split(",")[0]]
    out += [pair(k, g) for k in keys[:1] for g in grounds]
    out += [pair(g, s) for g in grounds for s in zones if s.role == "silhouette"]
    weights = primaries(SCENE_PRIMARIES).luminance
    for name, glow in glows:
        if not glow.any() or not grounds:
            continue
        level = float(np.median(frame.luma[glow]))
        light = max(float(np.median(frame.scene[glow] @ weights)), 1e-7)
        out.append(Ratio(f"glow of {name}", grounds[0].name, spoken(level, grounds[0].level, light, grounds[0].light)))
    return out
