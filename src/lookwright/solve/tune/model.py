"""A look on a fixed set of samples, with parameters that move: what does not change is not computed again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.staged import Part, Staged, StagedPoints, through
from lookwright.look.steps.numbers import with_value

from .free import Free, with_values
from .together import Together

Function = Callable[[Array], Array]

UNITS = 100.0
"""Oklab times this: lightness then runs to 100, and one unit is about one just visible difference (rule of thumb)."""


@dataclass(frozen=True)
class Seen:
    """What the look makes of some samples."""

    signal: Array
    """(n, 3) output code values."""
    lab: Array
    """(n, 3) Oklab of the display light, times :data:`UNITS`."""

    def __getitem__(self, part: slice) -> Seen:
        return Seen(self.signal[part], self.lab[part])


class Model:
    """The look as a function of its free parameters, on samples that stay.

    Parameters
    ----------
    look
        A look whose output is a display signal (see ``look.baking.viewing.View`` for log looks).
    free
        The parameters that move, from :func:`free.free_parameters`.
    codes
        (n, 3) source code values.
    """

    def __init__(self, look: Look, free: Sequence[Free], codes: Array) -> None:
        self.look, self.free = look, list(free)
        self.output = look.output.signal()
        self.codes = np.asarray(codes, np.float64)
        self._staged, self._points = Staged(), StagedPoints(self.codes)
        self._z = np.zeros(len(free))
        self._here = look
        self._run()

    def _run(self) -> None:
        self._parts = self._staged.parts(self._here)
        self._tried: dict[tuple[int, float], list[Part]] = {}
        self._seen = self.looked_at(self._points.run(self._parts))

    def move(self, z: Array) -> Seen:
        """Set the parameters and give what the samples look like. Steps that did not change are not run again."""
        if not np.array_equal(z, self._z):
            self._here = with_values(self.look, self.free, z)
            self._z = np.array(z, np.float64)
            self._run()
        return self._seen

    def seen(self) -> Seen:
        """What the samples look like now."""
        return self._seen

    def looked_at(self, signal: Array) -> Seen:
        """Output code values with their Oklab."""
        return Seen(signal, UNITS * light_to_oklab(self.output.to_light(signal)))

    def varied(self, i: int, z_i: float) -> Seen:
        """What the samples look like with only parameter ``i`` at ``z_i``; the model stays where it is."""
        return self.looked_at(self._points.varied(self.parts(i, z_i)))

    def function(self, i: int | None = None, z_i: float = 0.0) -> Function:
        """The look as it stands, or with parameter ``i`` at ``z_i``, on code values (..., 3)."""
        parts = self.parts(i, z_i)
        return lambda x: through(parts, np.asarray(x, np.float64))

    def together(self, arrays: Iterable[Array]) -> Together:
        """The look as it stands and others beside it, for work that asks about these code values: :mod:`.together`."""
        return Together(arrays, self._parts)

    def parts(self, i: int | None = None, z_i: float = 0.0) -> list[Part]:
        """The look as it stands, part by part, or with parameter ``i`` at ``z_i``."""
        if i is None:
            return self._parts
        if (i, z_i) not in self._tried:
            f = self.free[i]
            steps = list(self._here.steps)
            steps[f.step] = with_value(steps[f.step], f.path, f.value(z_i))
            self._tried[i, z_i] = self._staged.parts(self._here.model_copy(update={"steps": tuple(steps)}))
        return self._tried[i, z_i]
