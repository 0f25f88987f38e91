"""One frame against another, part by part: what light mends, what exposure, and what only the grade can."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np

from lookwright.assess.measure.compare import CAUTION, SMALL_STOPS

from .breakdown import Breakdown, Zone
from .warmth import nearest_filter

By = Literal["light", "exposure", "grade", "nothing"]

SMALL_PERCENT = 3.0
"""Levels nearer than this are the same on a monitor (common practice, no source)."""
SMALL_MIRED = 15.0
"""Differences below this are under the least step of conversion filters (an eighth, 18 to 20 mired)."""

DARK_SIDE = 18.0
"""Percent under which the colour of a shaded side is flare's and the grade's more than the fill light's."""
FARTHEST_MIRED = 160.0
"""A greater shift is beyond any one conversion filter, and sooner a misreading than a lamp."""


@dataclass(frozen=True)
class Gap:
    """One part of both frames."""

    name: str
    stops: float
    """Mine over the reference, after what all parts share was taken out; positive: mine is brighter."""
    mired: float | None
    """Mine warmer than the reference, after what all share was taken out; None where a colour says nothing of light."""
    mine_level: float
    reference_level: float
    mended_by: By
    sentence: str


@dataclass(frozen=True)
class Against:
    """What to change, worst first."""

    gaps: tuple[Gap, ...]
    common_stops: float
    common_mired: float
    summary: tuple[str, ...]
    only_reference: tuple[str, ...]
    only_mine: tuple[str, ...]
    caution: str = CAUTION

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)


def against(reference: Breakdown, mine: Breakdown) -> Against:
    """Compare two breakdowns by the names of their parts."""
    pairs = _pairs(reference, mine)
    raw = [m.stops - r.stops for _, r, m in pairs]
    common = float(np.median(raw)) if len(raw) >= 3 else 0.0
    common = common if abs(common) >= SMALL_STOPS else 0.0
    warm = [_warmer(n, r, m) for n, r, m in pairs]
    known = [w for w in warm if w is not None]
    sides = _between_sides(pairs)
    common_mired = float(np.median(known)) if len(known) >= 2 else 0.0
    common_mired = common_mired if abs(common_mired) >= SMALL_MIRED else 0.0
    gaps = [
        _gap(n, r, m, s - common, None if w is None else w - common_mired)
        for (n, r, m), s, w in zip(pairs, raw, warm, strict=True)
    ]
    if sides is not None:
        gaps = [
            _gap(n, r, m, s - common, sides) if r.role == "fill" else g
            for g, (n, r, m), s in zip(gaps, pairs, raw, strict=True)
        ]
    gaps.sort(key=lambda g: -max(abs(g.stops), abs(g.mired or 0.0) / 40.0))
    names = [n for n, _, _ in pairs]
    return Against(
        tuple(gaps),
        common,
        common_mired,
        tuple(_summary(common, common_mired, bool(pairs))),
        tuple(z.name for z in reference.named() if _part(z) not in names),
        tuple(z.name for z in mine.named() if _part(z) not in names),
    )


def _part(zone: Zone) -> str:
    """``face 2, lit side`` and ``lamp B`` as the first of their kind would be named."""
    kinds = {"key": "face, lit side", "fill": "face, shaded side", "lamp": "lamp", "ambient": "ambience"}
    return kinds.get(zone.role or "", zone.name.split(" A")[0])


def _pairs(reference: Breakdown, mine: Breakdown) -> list[tuple[str, Zone, Zone]]:
    """The first zone of each kind that both frames have."""
    first: dict[str, Zone] = {}
    for zone in reference.named():
        first.setdefault(_part(zone), zone)
    out: dict[str, tuple[str, Zone, Zone]] = {}
    for zone in mine.named():
        name = _part(zone)
        if name in first and name not in out:
            out[name] = (name, first[name], zone)
    return list(out.values())


def _warmer(name: str, reference: Zone, mine: Zone) -> float | None:
    """Mired between the two; nothing for skin, whose own colour is not the light's, and for a silhouette's black."""
    skin = reference.role in ("key", "fill", "skin")
    if reference.warmth is None or mine.warmth is None or skin or name == "silhouette":
        return None
    return mine.warmth.mired - reference.warmth.mired


def _between_sides(pairs: list[tuple[str, Zone, Zone]]) -> float | None:
    """How much warmer the fill is against the key in mine than in the reference: two sides of one skin, so that its own
    colour falls out."""
    sides = {r.role: (r, m) for _, r, m in pairs if r.role in ("key", "fill")}
    if len(sides) < 2 or any(z.warmth is None for pair in sides.values() for z in pair):
        return None
    if min(z.level for pair in sides.values() for z in pair) < DARK_SIDE:
        return None
    shift = [0.0, 0.0]
    for sign, role in ((1.0, "fill"), (-1.0, "key")):
        for i, zone in enumerate(sides[role]):
            shift[i] += sign * (zone.warmth.mired if zone.warmth is not None else 0.0)
    apart = shift[1] - shift[0]
    return apart if abs(apart) < FARTHEST_MIRED else None


def _gap(name: str, reference: Zone, mine: Zone, stops: float, mired: float | None) -> Gap:
    apart = mine.level - reference.level
    texts = []
    by: By = "nothing"
    if abs(stops) >= SMALL_STOPS:
        by = "light"
        way = "down" if stops > 0 else "up"
        texts.append(f"take its light {way} by {abs(stops):.1f} stops (to {100 * 2.0**-stops:.0f} % of what it is)")
    if mired is not None and abs(mired) >= SMALL_MIRED:
        by = "light"
        filter_ = nearest_filter(-mired)
        against_key = " against the key" if reference.role == "fill" else ""
        texts.append(
            f"make its light{against_key} {abs(mired):.0f} mired {'cooler' if mired > 0 else 'warmer'}"
            + (f": nearest filter {filter_}" if filter_ else "")
        )
    if not texts and abs(apart) >= SMALL_PERCENT:
        by = "grade"
        texts.append(
            f"the light is right, and it reads {mine.level:.0f} % where the reference reads {reference.level:.0f} %: "
            "that is the grade's to mend, no lamp's"
        )
    said = "; ".join(texts) if texts else "as in the reference"
    return Gap(name, stops, mired, mine.level, reference.level, by, f"{name}: {said}.")


def _summary(common: float, common_mired: float, any_: bool) -> list[str]:
    if not any_:
        return ["The two frames have no part in common that was recognised."]
    out = []
    if common:
        way, act = ("brighter", "close the iris") if common > 0 else ("darker", "open the iris")
        out.append(f"All parts are {abs(common):.1f} stops {way} than in the reference: {act} before any lamp.")
    if common_mired:
        way = "warmer" if common_mired > 0 else "cooler"
        out.append(
            f"All parts are {abs(common_mired):.0f} mired {way}: that is the camera's balance or the grade, not lamps."
        )
    return out or ["Neither exposure nor balance is off in all parts alike."]
