"""What a tuning did: every parameter, goal, target and measure of restraint, before and after."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from lookwright.assess.restraint.limits import BY_NAME
from lookwright.look.recipe.model import Look

from .gather import Gathered
from .goals import level_met

Status = Literal["determined", "tied", "open", "bound", "still"]


@dataclass(frozen=True)
class Change:
    """One parameter, before and after."""

    name: str
    unit: str
    before: float
    after: float
    status: Status
    """``determined``: within ``uncertainty``. ``tied``: moved, but more loosely known. ``open``: the data does not say;
    where it was. ``bound``: at a bound. ``still``: determined to be where it was."""
    uncertainty: float | None
    """Half width of the 95 % interval; None where the data gives none."""
    bound: str = ""
    """``lowest`` or ``highest`` when it is on a bound, with where the hard bound lies."""
    tied_to: str = ""
    effect: float = 0.0
    """How much the picture changes when this alone goes back to its start (Oklab x 100, root mean square)."""
    why: str = ""
    """The goal that gets worst without this move."""
    without: float = 0.0
    """That goal's distance without this move."""


@dataclass(frozen=True)
class Reached:
    """One level target."""

    label: str
    wanted: float
    before: float
    after: float
    most: bool = False
    """``wanted`` is the most it may be."""
    light: float | None = None
    """Stops of light on the zone that would bring it there through the tuned look; None where it is met, or where no
    light within reason would."""

    @property
    def met(self) -> bool:
        """Within the tolerance."""
        return level_met(self.after, self.wanted, self.most)

    @property
    def wanted_words(self) -> str:
        """``45``, or ``15 or less``."""
        return f"{self.wanted:g}" + (" or less" if self.most else "")


@dataclass
class Outcome:
    """What tuning did."""

    look: Look
    """The tuned look, as text would give it."""
    start: Look
    changes: list[Change]
    goals: dict[str, tuple[float, float]]
    """Distance before and after, by goal."""
    goal_words: dict[str, str]
    targets: list[Reached]
    conflicts: list[str]
    """Sentences on targets that cannot be met, or not together."""
    harm_before: dict[str, float]
    harm_after: dict[str, float]
    """Measures of ``check``: 1 is the failing limit."""
    stopped: bool
    evaluations: int
    starts: int
    seed: int
    notes: list[str] = field(default_factory=list)
    gathered: Gathered | None = None
    held: dict[str, str] = field(default_factory=dict)
    """Parameters held because another does the same, with the reason."""

    @property
    def met(self) -> bool:
        """Whether every level target is met."""
        return all(t.met for t in self.targets)

    @property
    def passes(self) -> bool:
        """Whether no measure of restraint fails."""
        return not any(h > 1.0 for h in self.harm_after.values())


def failing_words(harm: dict[str, float]) -> list[str]:
    """Titles of the measures that fail."""
    return [BY_NAME[n].title for n, h in harm.items() if h > 1.0]
