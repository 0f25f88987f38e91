"""Colours that measures ask for one after the other, put through a look all at once.

The measures that are watched ask for a few thousand colours in a dozen arrays, the same for every parameter that is
moved a little. On arrays so small the calls cost more than the numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from lookwright.arrays import Array
from lookwright.look.recipe.followed import Followed
from lookwright.look.recipe.staged import Part, through

Function = Callable[[Array], Array]
Key = tuple[tuple[int, ...], bytes]


def key_of(colours: Array) -> Key:
    """Equal for equal arrays."""
    return colours.shape, colours.tobytes()


class Asked:
    """A function of code values (..., 3) that remembers what it was asked for."""

    def __init__(self, function: Function) -> None:
        self._function = function
        self.arrays: dict[Key, Array] = {}

    def __call__(self, x: Array) -> Array:
        x = np.asarray(x, np.float64)
        self.arrays[key_of(x)] = x
        return self._function(x)


class Together:
    """Arrays of colours as one, behind a look whose parameters move one at a time.

    Parameters
    ----------
    arrays
        (..., 3) code values each.
    parts
        The look as it stands.
    """

    def __init__(self, arrays: Sequence[Array], parts: Sequence[Part]) -> None:
        self._places: dict[Key, slice] = {}
        rows, start = [np.empty((0, 3))], 0
        for x in arrays:
            if (key := key_of(x)) not in self._places:
                count = x.size // 3
                self._places[key] = slice(start, start + count)
                rows.append(x.reshape(-1, 3))
                start += count
        self._points = Followed(np.concatenate(rows), parts)

    def near(self, parts: Sequence[Part]) -> Function:
        """A look a little beside it; other colours than those of ``arrays`` go through it by themselves."""
        found = self._points.near(parts)

        def look(x: Array) -> Array:
            x = np.asarray(x, np.float64)
            place = self._places.get(key_of(x))
            return through(parts, x) if place is None else found[place].reshape(x.shape)

        return look
