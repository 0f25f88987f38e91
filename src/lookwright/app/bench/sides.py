"""What the page can show, by name: the look now, its plain rendering, what is saved, a version, another look ..."""

from __future__ import annotations

from collections.abc import Callable

from lookwright.errors import LookwrightError
from lookwright.look.recipe.model import Look

Side = Callable[[str], Look]
"""Takes what stands behind the colon of a name, and gives a look, or raises :class:`LookwrightError`."""


class Sides:
    """Names of looks; ``version:3`` is the side ``version``, asked for ``3``."""

    def __init__(self) -> None:
        self._sides: dict[str, Side] = {}

    def add(self, name: str, side: Side) -> None:
        """A kind of side; ``side`` may be called from several threads."""
        self._sides[name] = side

    def look(self, name: str) -> Look:
        """The look of a side.

        Raises :class:`LookwrightError` for a name there is none of, and whatever the side raises.
        """
        kind, _, rest = name.partition(":")
        if kind not in self._sides:
            raise LookwrightError("side", f"{name!r}", f"one of {', '.join(self._sides)}")
        return self._sides[kind](rest)
