"""How a series drifts from episode to episode, from what is kept of it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from lookwright.words import listed

from .memory import KeptEpisode, Memory

FEWEST = 3
"""Episodes from which on a trend is told: two points always lie on a line."""


@dataclass(frozen=True)
class EpisodeDrift:
    """One episode against the anchor, as it was shot: medians over the shots that could be matched."""

    episode: str
    shots: int
    matched: int
    stops: float | None
    mired: float | None
    outside: tuple[str, ...]
    """Shots that were shot further from the anchor than the tolerance."""
    left: tuple[str, ...]
    """Shots that are outside it still, after their CDL."""
    changed: tuple[str, ...]
    unknown: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)

    def sentence(self) -> str:
        """One line for a person."""
        if self.stops is None or self.mired is None:
            return f"episode {self.episode}: none of {self.shots} shot(s) matched"
        parts = [
            f"episode {self.episode}: {self.matched} of {self.shots} matched, shot {self.stops:+.2f} stop and "
            f"{self.mired:+.0f} mired from the anchor (median)"
        ]
        for words, names in (
            ("beyond the tolerance as shot", self.outside),
            ("still outside", self.left),
            ("lit otherwise", self.changed),
            ("not known", self.unknown),
        ):
            if names:
                parts.append(f"{words}: {listed(names, 5)}")
        return "; ".join(parts)


@dataclass(frozen=True)
class Trend:
    """Medians of the slopes between every two episodes (Theil 1950, Sen 1968): one odd episode makes no drift."""

    stops: float
    mired: float

    def sentence(self) -> str:
        """One line for a person."""
        return f"from episode to episode: {self.stops:+.3f} stop and {self.mired:+.1f} mired"


def episodes(memory: Memory) -> list[EpisodeDrift]:
    """Every episode that is kept, in order."""
    return [_episode(e, memory) for e in memory.episode]


def trend(drifts: list[EpisodeDrift]) -> Trend | None:
    """None for fewer than FEWEST episodes with a matched shot."""
    known = [(n, d.stops, d.mired) for n, d in enumerate(drifts) if d.stops is not None and d.mired is not None]
    if len(known) < FEWEST:
        return None
    slopes = [
        ((b[1] - a[1]) / (b[0] - a[0]), (b[2] - a[2]) / (b[0] - a[0])) for a in known for b in known if b[0] > a[0]
    ]
    stops, mired = np.median(np.array(slopes), axis=0)
    return Trend(float(stops), float(mired))


def _episode(episode: KeptEpisode, memory: Memory) -> EpisodeDrift:
    tolerance = memory.tolerance
    matched = [s for s in episode.shot if s.state == "matched"]

    def beyond(stops: float, mired: float) -> bool:
        return abs(stops) > tolerance.stops or abs(mired) > tolerance.mired

    return EpisodeDrift(
        episode.name,
        len(episode.shot),
        len(matched),
        float(np.median([s.stops for s in matched])) if matched else None,
        float(np.median([s.mired for s in matched])) if matched else None,
        tuple(s.name for s in matched if beyond(s.stops, s.mired)),
        tuple(s.name for s in matched if beyond(s.left_stops, s.left_mired)),
        tuple(s.name for s in episode.shot if s.state == "changed"),
        tuple(s.name for s in episode.shot if s.state == "unknown"),
    )
