"""What may differ between two takes of one scene: exposure, balance and flare; and how it is undone."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.balance import balance_matrix

NAMES = ("stops", "mired", "tint", "flare")

LOW = np.array([-4.0, -100.0, -0.02, -0.02])
HIGH = np.array([4.0, 200.0, 0.02, 0.02])
"""Bounds of the solver, wider than any take that belongs to the scene (see the caps in ``match``). Mired ends where
the ``balance`` step ends."""


@dataclass(frozen=True)
class Difference:
    """How a take differs from the anchor: its light is ``B(mired, tint) 2^stops anchor + flare`` in linear ACEScg.

    Positive ``stops`` is a brighter take, positive ``mired`` a warmer one, positive ``tint`` (Duv) a greener one;
    ``flare`` is veiling light, equal in the three channels. The balance is that of the ``balance`` step.
    """

    stops: float = 0.0
    mired: float = 0.0
    tint: float = 0.0
    flare: float = 0.0

    @classmethod
    def of(cls, values: Array) -> Difference:
        """From an array in the order of :data:`NAMES`."""
        return cls(*(float(v) for v in values))

    def values(self) -> Array:
        """As an array in the order of :data:`NAMES`."""
        return np.array([self.stops, self.mired, self.tint, self.flare])

    def apply(self, scene: Array) -> Array:
        """The anchor's light (..., 3) as this take would have it."""
        return np.asarray(scene, np.float64) @ (balance_matrix(self.mired, self.tint) * 2.0**self.stops).T + self.flare

    def undo(self, scene: Array) -> Array:
        """This take's light (..., 3) brought to the anchor: the exact inverse of :meth:`apply`."""
        matrix = np.linalg.inv(balance_matrix(self.mired, self.tint)) * 2.0**-self.stops
        return (np.asarray(scene, np.float64) - self.flare) @ matrix.T

    def beyond(self, stops: float, mired: float, tint: float) -> list[str]:
        """The parts that are larger than the given caps, in words; empty when none is."""
        caps = (("stops", self.stops, stops), ("mired", self.mired, mired), ("Duv", self.tint, tint))
        return [f"{value:+.3g} {name}" for name, value, cap in caps if abs(value) > cap]

    def in_words(self) -> str:
        """One clause, e.g. ``0.31 stops over, 12 mired warmer``."""
        parts = []
        if abs(self.stops) >= 0.005:
            parts.append(f"{abs(self.stops):.2f} stops {'over' if self.stops > 0 else 'under'}")
        if abs(self.mired) >= 0.5:
            parts.append(f"{abs(self.mired):.0f} mired {'warmer' if self.mired > 0 else 'cooler'}")
        if abs(self.tint) >= 0.0005:
            parts.append(f"Duv {abs(self.tint):.4f} {'greener' if self.tint > 0 else 'pinker'}")
        if abs(self.flare) >= 0.0002:
            parts.append(f"flare {self.flare:+.4f}")
        return ", ".join(parts) or "the same"

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers, ready for JSON."""
        return asdict(self)
