"""A part of a clip that nothing else decides, through the clip itself: it shows what the camera did at the cut.

A lamp that is switched makes a part unlike the anchor, so that neither marks nor frame nor shared surfaces tell its
exposure. But the camera ran on: between neighbouring frames everything that no lamp reaches says, to some thousandths
of a stop, what iris and drift did (``drift``). What is known of one part then holds for the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from lookwright.errors import LookwrightError

from .difference import Difference
from .match import Match

ERROR_STOPS, ERROR_MIRED = 0.01, 0.5
"""Standard error of a difference that was followed through a clip: twice what tests/properties/test_drift.py holds."""


@dataclass(frozen=True)
class Link:
    """Two stills of one clip, one after the other."""

    first: Path
    second: Path
    name: str
    """Of the shot that ``first`` stands for."""
    follows: Difference
    """How the camera's light of the second differs from that of the first: stops and mired alone."""


def through(
    paths: Sequence[Path], names: Sequence[str], matches: Sequence[Match | LookwrightError], links: Sequence[Link]
) -> list[Match | LookwrightError]:
    """The matches, with parts of clips that are not decided taken from the nearest part that is."""
    places = {path: n for n, path in enumerate(paths)}
    joined: dict[int, list[tuple[int, float, float]]] = {}
    for link in links:
        if link.first in places and link.second in places:
            one, other = places[link.first], places[link.second]
            stops, mired = link.follows.stops, link.follows.mired
            joined.setdefault(one, []).append((other, stops, mired))
            joined.setdefault(other, []).append((one, -stops, -mired))
    out = list(matches)
    for n in joined:
        match = matches[n]
        if isinstance(match, Match) and match.changed:
            found = _nearest(n, joined, matches)
            if found is not None:
                out[n] = _followed(match, *found, names)
    return out


def _nearest(
    start: int, joined: dict[int, list[tuple[int, float, float]]], matches: Sequence[Match | LookwrightError]
) -> tuple[int, Match, float, float] | None:
    """The nearest part that is decided, and by how much ``start`` is over and warmer than it."""
    seen, edge = {start}, [(start, 0.0, 0.0)]
    while edge:
        beyond = []
        for at, stops, mired in edge:
            for other, more, warmer in joined[at]:
                match = matches[other]
                if other in seen or isinstance(match, LookwrightError):
                    continue
                if not match.changed:
                    return other, match, stops - more, mired - warmer
                seen.add(other)
                beyond.append((other, stops - more, mired - warmer))
        edge = beyond
    return None


def _followed(match: Match, other: int, known: Match, stops: float, mired: float, names: Sequence[str]) -> Match:
    base = known.difference
    difference = Difference(base.stops + stops, base.mired + mired, base.tint, base.flare * 2.0**stops)
    errors = [
        None if error is None else float(np.hypot(error, own))
        for error, own in ((known.stops_error, ERROR_STOPS), (known.mired_error, ERROR_MIRED))
    ]
    return replace(
        match,
        difference=difference,
        by="clip",
        confidence=known.confidence,
        changed="",
        note=f"by itself it was not matched: {match.changed}",
        state="matched",
        stops_error=errors[0],
        mired_error=errors[1],
        compared=(names[other],),
    )
