"""What each step of a look does to a still: the picture before it and after it, and where the two differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array, Pixels
from lookwright.colour.difference import ciede2000
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.look.recipe.so_far import so_far
from lookwright.lut.fit.appearance import lab_of

SEEN = 1.0
"""CIEDE2000 from which on a difference counts as seen: about what an eye can just tell side by side (common practice,
no source)."""


@dataclass(frozen=True)
class Effect:
    """One step on one still."""

    before: Pixels
    """(H, W, 3) output code values: the steps above it, then the plain rendering."""
    after: Pixels
    difference: Array
    """(H, W) CIEDE2000 between the two."""
    lightness: float
    """Mean change of CIELAB L*."""
    chroma: float
    """Mean change of CIELAB C*ab."""

    @property
    def mean(self) -> float:
        """Of the difference."""
        return float(self.difference.mean())

    @property
    def largest(self) -> float:
        """What 99 pixels of 100 stay under."""
        return float(np.percentile(self.difference, 99.0))

    @property
    def seen(self) -> float:
        """Percent of the picture that differs by more than :data:`SEEN`."""
        return 100.0 * float((self.difference > SEEN).mean())

    @property
    def unseen(self) -> bool:
        """Whether nothing changes on this still."""
        return float(self.difference.max()) < 0.05

    def sentence(self) -> str:
        """In figures, for a caption."""
        if self.unseen:
            return "nothing changes here"
        moves = [
            f"{name} {value:+.1f}".replace("-", "−")
            for name, value in (("L*", self.lightness), ("C*", self.chroma))
            if abs(value) >= 0.05
        ]
        average = ", ".join([f"CIEDE2000 {self.mean:.1f}", *moves])
        return f"{self._visibly()}; on average {average}; for 99 % of it CIEDE2000 is under {self.largest + 0.05:.1f}"

    def _visibly(self) -> str:
        if self.seen == 0.0:
            return "no part of the picture changes visibly"
        share = f"{self.seen:.0f}" if self.seen >= 1.0 else "under 1"
        return f"{share} % of the picture changes visibly"


class Telling:
    """A look taken apart: the path up to each of its steps, compiled once for all stills."""

    def __init__(self, look: Look, steps: int) -> None:
        """``steps`` may be fewer than the look has, where a rendering was put behind it to see it by."""
        self._look = look
        self.places = [i for i in range(steps) if look.steps[i].on]
        """Of the steps that are on."""
        self.paths: list[Pipeline] = [compile_look(so_far(look, 0))]
        self.paths += [compile_look(so_far(look, i + 1)) for i in self.places]

    def effects(self, small: Pixels) -> list[Effect]:
        """Of each step that is on; ``small`` is (H, W, 3) of the source's code values."""
        codes = np.asarray(small, np.float64)
        seen = [np.asarray(path.run(codes)) for path in self.paths]
        to_lab = lab_of(self.paths[0].output)
        labs = [to_lab(picture) for picture in seen]
        found = []
        for i in range(len(self.places)):
            (l1, c1), (l2, c2) = ((lab[..., 0], np.hypot(lab[..., 1], lab[..., 2])) for lab in labs[i : i + 2])
            found.append(
                Effect(
                    seen[i].astype(np.float32),
                    seen[i + 1].astype(np.float32),
                    ciede2000(labs[i], labs[i + 1]),
                    float((l2 - l1).mean()),
                    float((c2 - c1).mean()),
                )
            )
        return found


SCALES = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 30.0, 50.0)
DARK, LIGHT = 44, 244
"""Code values of no difference and of the largest: greys, so that the map is not taken for the picture's colours."""


def scale_for(effects: list[Effect]) -> float:
    """The CIEDE2000 that is white in all maps of a page, so that steps can be compared by eye."""
    largest = max((effect.largest for effect in effects), default=0.0)
    return next((s for s in SCALES if largest <= s), SCALES[-1])


def difference_map(effect: Effect, scale: float) -> Pixels:
    """(H, W) uint8: where the step acts, the lighter the more, white from ``scale`` on."""
    share = np.clip(effect.difference / scale, 0.0, 1.0)
    return np.asarray(np.rint(DARK + (LIGHT - DARK) * share), np.uint8)
