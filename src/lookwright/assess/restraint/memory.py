"""Sky and leaves: colours that everyone remembers, held to a tolerance of their own."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial

import numpy as np

from lookwright.arrays import Array

from .scene import scene_colours
from .shades import Shades, grey_curve
from .subject import Subject
from .values import Measured, Places, both_ways, stops_words

STOPS = {"sky": (-1.0, 0.0, 1.0, 2.0), "leaves": (-3.0, -2.0, -1.0, 0.0, 1.0)}
"""Exposures about that of the sunlit grey card. A clear sky has the luminance of a grey to a white in the sun (3000 to
8000 cd/m2 against 5700 of the card; common figures, from memory); leaves are lit, in shade, or in the dark of a
tree."""

TOWARD = {"sky": ("violet", "cyan"), "leaves": ("blue-green", "mustard")}
"""Where a turn to a larger and to a smaller Oklab hue leads."""


@lru_cache(maxsize=2)
def _scene(which: str) -> Array:
    """(exposure, colour, 3)."""
    return np.asarray(np.exp2(np.array(STOPS[which]))[:, None, None] * scene_colours()[which].scene)


def memory(subject: Subject) -> Measured:
    """Turn of hue, share of colour kept and change of lightness of skies and of leaves, against the plain rendering."""
    curve = grey_curve(subject)
    places = []
    for which in ("sky", "leaves"):
        scene = _scene(which)
        at = scene.reshape(-1, 3)
        seen = Shades(subject, at, curve)
        where = partial(_where, which, scene.shape[:2])
        places += [
            Places(f"{which}_hue", both_ways(seen.turn), partial(_turns, which, where, len(seen.turn)), at),
            Places(f"{which}_colour", seen.factor, partial(_keeps, where, seen.factor), at),
            Places(f"{which}_level", both_ways(seen.lighter), partial(_lighter, where, len(seen.lighter)), at),
        ]
    return Measured(places)


def _where(which: str, shape: tuple[int, ...], index: int) -> str:
    exposure, colour = np.unravel_index(index, shape)
    return f"{scene_colours()[which].names[int(colour)]} {stops_words(STOPS[which][exposure])}"


def _turns(which: str, where: Callable[[int], str], count: int, index: int) -> str:
    way, index = divmod(index, count)
    return f"turns {where(index)} toward {TOWARD[which][way]}"


def _keeps(where: Callable[[int], str], factor: Array, index: int) -> str:
    return f"leaves {where(index)} {100.0 * factor[index]:.0f} % of its colour"


def _lighter(where: Callable[[int], str], count: int, index: int) -> str:
    way, index = divmod(index, count)
    return f"makes {where(index)} {('lighter', 'darker')[way]} than contrast accounts for"
