"""What one measure is: its limits, and how its values become harm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from lookwright.arrays import Array

State = Literal["ok", "watch", "fail"]
Group = Literal["faces", "colours", "tones"]

OURS = "our choice"
"""The source of a limit that has none."""


@dataclass(frozen=True)
class Measure:
    """One measure and its limits.

    A value has an *ideal* (no harm), a limit from which to *watch*, and a limit at which the check *fails*. Harm is
    counted as 0 at the ideal, one half at the watching limit and 1 at the failing one, so that findings of unlike
    units can be put in order.
    """

    name: str
    title: str
    unit: str
    ideal: float
    watch: float
    fail: float
    group: Group
    """Which sentence of the verdict it belongs to."""
    reason: str
    """Why the limits are where they are."""
    source: str
    """Where the numbers come from: a publication, arithmetic on one, or :data:`OURS`."""
    remedy: str
    """What to do, in words, where there is no parameter to ease (a foreign LUT)."""
    plainly: str = ""
    """What goes wrong, as a filmmaker would say it: a clause that follows the group's name."""

    @property
    def side(self) -> float:
        """1 where larger values are worse, -1 where smaller ones are."""
        return 1.0 if self.fail > self.ideal else -1.0

    def state(self, value: float, fail: float | None = None) -> State:
        """Where ``value`` stands; ``fail`` replaces the declared failing limit, and the watching one moves with it."""
        limit = self.fail if fail is None else fail
        if self.side * value > self.side * limit:
            return "fail"
        return "watch" if self.side * value > self.side * self.watch_for(limit) else "ok"

    def watch_for(self, fail: float) -> float:
        """The watching limit that goes with a failing limit: the declared share of the way from the ideal."""
        return self.ideal + (self.watch - self.ideal) * (fail - self.ideal) / (self.fail - self.ideal)

    def signed_harm(self, values: Array, fail: float | None = None) -> Array:
        """Harm (n,) of values (n,): straight from the ideal to the watching and on to the failing limit and beyond.

        Below 0 on the better side of the ideal. NaN, which stands where there was nothing to judge, gives 0.
        """
        limit = self.fail if fail is None else fail
        watch = self.watch_for(limit)
        first = (np.asarray(values, np.float64) - self.ideal) / (watch - self.ideal)
        harm = np.where(first <= 1.0, 0.5 * first, 0.5 + 0.5 * (values - watch) / (limit - watch))
        return np.where(np.isnan(harm), 0.0, harm)

    def harm(self, value: float, fail: float | None = None) -> float:
        """Harm of one value: 0 at the ideal and on its better side."""
        return max(0.0, float(self.signed_harm(np.array([value]), fail)[0]))
