"""What to change on set, in stops, so that one frame's marks sit as another's do.

Light is compared, not signal: a stop on a lamp is a factor of two of scene light. For display pictures scene light is
an estimate (see levels.py); two frames that went through the same look compare better than their absolute figures.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from lookwright.errors import MarksError

from .levels import Level

CAUTION = (
    "These are figures about light, not instructions for rigging. Lamps above people, hot lamps, stands, dimmers and "
    "mains electricity can kill: overhead rigging and electrical work belong to licensed or qualified people, under "
    "the codes and permits of the place. Where a figure here and their judgement differ, theirs holds. Let lamps cool, "
    "keep them clear of cloth and sprinklers, and cut the power before changing anything on them."
)
"""Printed with every advice on lamps."""

SMALL_STOPS = 0.15
"""Differences below this are called a match: about half of the third-stop steps that lenses are marked in (common
practice, no source)."""


@dataclass(frozen=True)
class Change:
    """One mark against the reference."""

    mark: str
    stops: float
    """Mine over the reference; positive = mine is brighter."""
    beyond_common: float
    """The same after taking out what all marks share."""
    mine_level: float
    reference_level: float
    """Median levels in percent of each frame's own signal."""
    estimated: bool
    sentence: str


@dataclass(frozen=True)
class Comparison:
    """All marks found in both frames."""

    changes: tuple[Change, ...]
    common_stops: float
    """Median over the marks: what exposure alone would mend; 0 with fewer than three marks."""
    summary: str
    missing: tuple[str, ...]
    """Marks that only one frame has."""
    caution: str = CAUTION

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)


def _stop_words(count: float) -> str:
    size = abs(count)
    return f"{size:.1f} stop" if size < 1.05 else f"{size:.1f} stops"


def _sentence(mark: str, stops: float, beyond: float, common: float, estimated: bool) -> str:
    about = "about " if estimated else ""
    if abs(stops) < SMALL_STOPS:
        return f"{mark!r} matches the reference within {SMALL_STOPS:g} stop."
    side = "over" if stops > 0 else "under"
    text = f"{mark!r} is {about}{_stop_words(stops)} {side} the reference"
    if common and abs(beyond) < SMALL_STOPS:
        return text + ", as the whole frame is: leave its light alone and change the exposure."
    verb = "take" if beyond > 0 else "bring"
    way = "down" if beyond > 0 else "up"
    after = ", once the exposure is changed" if common else ""
    factor = 100.0 * 2.0**-beyond
    return f"{text}: {verb} that light {way} by {_stop_words(beyond)} (to {factor:.0f} % of what it is){after}."


def compare(reference: Mapping[str, Level], mine: Mapping[str, Level]) -> Comparison:
    """Compare the levels of marks that both frames have, by name.

    The shift that all marks share (the median, when there are three or more and it exceeds :data:`SMALL_STOPS`) is
    advised as exposure; what remains is advised lamp by lamp.

    Raises
    ------
    MarksError
        The two frames have no mark in common.
    """
    both = [name for name in mine if name in reference]
    if not both:
        raise MarksError(
            "marks of the two frames",
            f"none in common: {', '.join(mine) or 'none'} against {', '.join(reference) or 'none'}",
            hint="give the same name to what should match",
        )
    raw = {n: mine[n].scene.stops - reference[n].scene.stops for n in both}
    common = float(np.median(list(raw.values()))) if len(both) >= 3 else 0.0
    if abs(common) < SMALL_STOPS:
        common = 0.0
    changes = []
    for name in both:
        estimated = mine[name].scene.estimated or reference[name].scene.estimated
        beyond = raw[name] - common
        changes.append(
            Change(
                name,
                raw[name],
                beyond,
                mine[name].luma.median,
                reference[name].luma.median,
                estimated,
                _sentence(name, raw[name], beyond, common, estimated),
            )
        )
    changes.sort(key=lambda c: -abs(c.beyond_common))
    if common:
        way, act = ("over", "close the iris, or dim everything,") if common > 0 else ("under", "open up")
        summary = f"The whole frame is {_stop_words(common)} {way} the reference: {act} by {_stop_words(common)}."
    else:
        summary = "No shift of exposure is common to the marks."
    missing = tuple([n for n in mine if n not in reference] + [n for n in reference if n not in mine])
    return Comparison(tuple(changes), common, summary, missing)
