"""Colours that measures ask for one after the other, put through a look all at once.

The measures that are watched ask for a few thousand colours in a dozen arrays, the same for every parameter that is
moved a little. On arrays so small the calls cost more than the numbers, and the steps before the one that moved give
what they gave.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.restraint.remember import Key, key_of
from lookwright.look.recipe.staged import Part, StagedPoints, through

T = TypeVar("T")
Function = Callable[[Array], Array]


class Together:
    """Arrays of colours as one, behind a look whose parameters move one at a time.

    Other colours than those of ``arrays`` go through the look by themselves.

    Parameters
    ----------
    arrays
        (..., 3) code values each.
    parts
        The look as it stands.
    """

    def __init__(self, arrays: Iterable[Array], parts: Sequence[Part]) -> None:
        self._parts = parts
        self._places: dict[Key, slice] = {}
        rows, start = [np.empty((0, 3))], 0
        for x in arrays:
            if (key := key_of(x)) not in self._places:
                count = x.size // 3
                self._places[key] = slice(start, start + count)
                rows.append(x.reshape(-1, 3))
                start += count
        self._points = StagedPoints(np.concatenate(rows))
        self._seen = self._points.run(parts)

    def here(self, work: Callable[[Function], T]) -> tuple[T, list[Array]]:
        """What ``work`` makes of the look as it stands, and the code values (..., 3) that it asked about."""
        asked: list[Array] = []

        def look(x: Array) -> Array:
            asked.append(np.asarray(x, np.float64))
            return self._found(asked[-1], self._parts, self._seen)

        return work(look), asked

    def varied(self, parts: Sequence[Part]) -> Function:
        """A look tried beside it."""
        found = self._points.varied(parts)
        return lambda x: self._found(np.asarray(x, np.float64), parts, found)

    def _found(self, x: Array, parts: Sequence[Part], found: Array) -> Array:
        place = self._places.get(key_of(x))
        return through(parts, x) if place is None else found[place].reshape(x.shape)
