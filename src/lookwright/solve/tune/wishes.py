"""What to tune to, as the user said it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from lookwright.errors import LookwrightError, did_you_mean
from lookwright.pictures.stills import Mark

GOALS = ("pairs", "reference", "levels", "separation", "colour", "restraint")
"""What a weight can be given to."""


@dataclass(frozen=True)
class Wishes:
    """What to tune to, as the user said it."""

    stills: tuple[Path, ...] = ()
    pairs: tuple[tuple[Path, Path], ...] = ()
    references: tuple[Path, ...] = ()
    reference_encoding: str = ""
    """Of references and of the graded frames of pairs; empty = the look's output."""
    marks: Mapping[str, list[Mark]] = field(default_factory=dict)
    own_marks: tuple[Mark, ...] = ()
    """Marks on every still."""
    levels: Mapping[str, float] = field(default_factory=dict)
    """Levels by the name of a mark; stronger than those in ``marks``."""
    separation: float | None = None
    weights: Mapping[str, float] = field(default_factory=dict)
    seed: int = 0
    samples: int = 1200
    starts: int = 4
    """Most places to start from, the recipe's own values included."""
    pictures: bool = False
    """Keep small copies for a sheet."""

    @property
    def wants_levels(self) -> bool:
        """Whether any level is named, by itself or on a mark."""
        return bool(self.levels) or any(m.level is not None for ms in self.marks.values() for m in ms)


def check_goals(wishes: Wishes) -> None:
    """Refuse wishes that no work could fulfil, before any picture is read."""
    if not (wishes.pairs or wishes.references or wishes.wants_levels or wishes.separation is not None):
        raise LookwrightError(
            "tune",
            "there is no goal",
            "--reference FRAME, --pair BEFORE AFTER, levels on marks (--marks, --level) or --separation DEGREES",
        )
    if not wishes.stills:
        for option, given in (
            ("--reference", bool(wishes.references)),
            ("--level", bool(wishes.levels)),
            ("--separation", wishes.separation is not None),
        ):
            if given:
                raise LookwrightError(option, "needs stills to try the look on", hint="name them with --stills")
    for name in wishes.weights:
        if name not in GOALS:
            raise LookwrightError("--weight", f"no goal {name!r}", hint=did_you_mean(name, GOALS))
