"""The outcome of a check: findings in order of harm, and what was gained."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.words import listed

from .effect import Effect
from .limits import BY_NAME, State
from .limits.measure import Group

_ORDER = {"fail": 0, "watch": 1, "ok": 2}
_NAMED = 4
"""Measures that one line names."""


@dataclass(frozen=True)
class Finding:
    """One measure held against its limit."""

    measure: str
    """Name, as in ``[limits.NAME]``."""
    title: str
    value: float
    unit: str
    watch: float
    limit: float
    """The failing limit that was used."""
    state: State
    harm: float
    """0 none, one half where watching begins, 1 where the check fails."""
    found: str
    advice: str
    """What to ease; empty when the state is ok."""
    reason: str
    """Why the limit is where it is."""
    source: str
    """Where its numbers come from."""
    own_limit: str = ""
    """The look's reason for a limit of its own, and the declared limit; empty where the declared one was used."""

    @property
    def group(self) -> Group:
        """Which sentence of the verdict it belongs to."""
        return BY_NAME[self.measure].group

    def sentence(self) -> str:
        """What was found and what to do about it."""
        text = self.found[:1].upper() + self.found[1:] + "."
        return f"{text} {self.advice}" if self.advice else text


@dataclass(frozen=True)
class Where:
    """Where in colour a measure is not ok."""

    scene: Array
    """(n, 3) linear ACEScg of every colour that was judged."""
    harmful: NDArray[np.bool_]
    """(n,) those that are beyond the watching limit."""


@dataclass(frozen=True)
class StillReport:
    """What a check saw on one still."""

    name: str
    clipped: float
    """Percent of pixels newly clipped."""
    crushed: float
    """Percent of pixels newly black."""
    skin: tuple[str, ...]
    """One sentence for each skin mark."""
    separation_plain: float
    separation_graded: float
    """Distance of the warm and the cool part in the Oklab a, b plane, times 100, the same pixels followed through the
    grade; 0 where one is absent."""

    hues_plain: float | None = None
    hues_graded: float | None = None
    """Angle between the hues of the two parts, 0 to 180 degrees."""

    def hue_words(self) -> str:
        """``, hues 168 to 171 deg apart``, or nothing where a part is absent."""
        if self.hues_plain is None or self.hues_graded is None:
            return ""
        return f", hues {self.hues_plain:.0f} to {self.hues_graded:.0f} deg apart"

    @property
    def gained(self) -> float:
        """Separation gained."""
        return self.separation_graded - self.separation_plain


@dataclass(frozen=True)
class Report:
    """All findings about one subject."""

    name: str
    source: str
    output: str
    note: str
    findings: tuple[Finding, ...]
    """By state (fail, watch, ok), then by harm, the worst first."""
    verdict: tuple[str, str, str]
    """Faces; skies, leaves and colours; greys and shadows: each in a sentence or two, with what to do."""
    effect: Effect
    """What it does, beside what it harms."""
    closing: str = ""
    """What to do with a LUT file that fails; empty for a look, and for one that passes."""
    stills: tuple[StillReport, ...] = ()
    plots: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)
    doubts: dict[str, list[str]] = field(default_factory=dict)
    """By name of a still: signs that it is not what the look is fed, in which case nothing here holds for it."""
    faults: tuple[str, ...] = ()
    """Stills that could not be read, a line each; the rest were measured."""
    where: dict[str, Where] = field(default_factory=dict, repr=False, compare=False)
    """The places of each measure that is not ok and has a place in colour."""

    @property
    def worst(self) -> State:
        """The worst state among the findings."""
        return min((f.state for f in self.findings), key=_ORDER.__getitem__, default="ok")

    def of(self, state: State) -> list[Finding]:
        """The findings in one state."""
        return [f for f in self.findings if f.state == state]

    def headline(self) -> str:
        """``passes``, ``fails on 3 of 51 measures``, ``passes, with 2 measures to watch``."""
        bad, look = len(self.of("fail")), len(self.of("watch"))
        if bad:
            return f"fails on {bad} of {len(self.findings)} measures"
        return f"passes, with {look} of {len(self.findings)} measures to watch" if look else "passes"

    def summary(self) -> str:
        """One line; it names the first few measures, in the order of the table, and counts the rest."""
        bad, look = self.of("fail"), self.of("watch")
        if bad:
            return "fails on " + listed([f.title for f in bad], _NAMED)
        return "passes; watch " + listed([f.title for f in look], _NAMED) if look else "no harm found"

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return {
            "name": self.name,
            "source": self.source,
            "output": self.output,
            "note": self.note,
            "worst": self.worst,
            "summary": self.summary(),
            "verdict": list(self.verdict),
            "effect": {**asdict(self.effect), "strength": self.effect.strength, "sentence": self.effect.sentence()},
            "closing": self.closing,
            "doubts": self.doubts,
            "faults": list(self.faults),
            "findings": [asdict(f) for f in self.findings],
            "stills": [{**asdict(s), "gained": s.gained} for s in self.stills],
        }


def in_order(findings: list[Finding]) -> tuple[Finding, ...]:
    """The worst first."""
    return tuple(sorted(findings, key=lambda f: (_ORDER[f.state], -f.harm)))
