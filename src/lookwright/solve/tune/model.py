"""A look on a fixed set of samples, with parameters that move: what does not change is not computed again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.hue_flow import HueMap
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import folded, stages
from lookwright.look.steps.base import Context, Op
from lookwright.look.steps.split import Split

from .free import Free, with_value

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
        A look whose output is a display signal (see ``lut.viewing.View`` for log looks).
    free
        The parameters that move, from :func:`free.free_parameters`.
    codes
        (n, 3) source code values.
    """

    def __init__(self, look: Look, free: Sequence[Free], codes: Array) -> None:
        self.look, self.free = look, list(free)
        self.output = look.output.signal()
        self._context = Context(look.source.signal(), self.output, look.folder)
        parts = stages(look)
        self._order = [p.step for p in parts if p.step is not None]
        self._into = [tuple(folded(p.before)) for p in parts[1:]]  # the last one is the encoding
        self._own: list[Op] = [p.own for p in parts if p.own is not None]
        self._place = {step: k for k, step in enumerate(self._order)}
        self._decode = tuple(folded(parts[0].before))
        self._z = np.zeros(len(free))
        self._maps: dict[tuple[object, ...], HueMap] = {}
        self.codes = np.asarray(codes, np.float64)
        start = self.codes
        for op in self._decode:
            start = op(start)
        self._before: list[Array] = []
        self._run(start, 0)

    def _run(self, x: Array, first: int) -> None:
        """Recompute from step place ``first`` on, keeping what every step was given."""
        del self._before[first:]
        for into, own in zip(self._into[first:], self._own[first:], strict=False):
            for op in into:
                x = op(x)
            self._before.append(x)
            x = own(x)
        self._signal = self._end(x)
        self._seen: Seen | None = None

    def _end(self, x: Array) -> Array:
        for op in self._into[-1]:
            x = op(x)
        return x

    def _prepared(self, place: int, z: Array) -> Op:
        """The step at this place of the path with its free parameters at z."""
        index = self._order[place]
        step = self.look.steps[index]
        for f, at in zip(self.free, z, strict=True):
            if f.step == index:
                step = with_value(step, f.path, f.value(float(at)))
        effective = step if self.look.strength == 1.0 else step.scaled(self.look.strength)
        if isinstance(effective, Split):
            effective = self._with_known_map(effective)
        return effective.prepare(self._context)

    def _with_known_map(self, step: Split) -> Split:
        """The same step with a hue map that was made before, where there is one for its values.

        The map is most of the work of preparing a split, and six of its nine parameters do not enter it. A unit test
        holds every parameter of every step against a look compiled afresh.
        """
        key = (step.warm, step.cool, step.pull, step.spread, step.hold)
        if key not in self._maps:
            if len(self._maps) > 64:
                self._maps.clear()
            self._maps[key] = step.hue_map()
        known = self._maps[key]
        copy = step.model_copy()
        object.__setattr__(copy, "hue_map", lambda: known)
        return copy

    def move(self, z: Array) -> Seen:
        """Set the parameters and give what the samples look like. Steps that did not change are not run again."""
        changed = [f.step for f, a, b in zip(self.free, self._z, z, strict=True) if a != b]
        if changed:
            places = sorted({self._place[s] for s in changed})
            prepared = {place: self._prepared(place, z) for place in places}
            for place, op in prepared.items():
                self._own[place] = op
            first = places[0]
            # Its own input is the same: run the step itself, then everything behind it.
            x = self._own[first](self._before[first])
            kept = self._before[: first + 1]
            self._before = kept
            if first + 1 < len(self._own):
                self._run(x, first + 1)
            else:
                self._signal, self._seen = self._end(x), None
            self._z = np.array(z, np.float64)
        return self.seen()

    def seen(self) -> Seen:
        """What the samples look like now."""
        if self._seen is None:
            self._seen = self.looked_at(self._signal)
        return self._seen

    def looked_at(self, signal: Array) -> Seen:
        """Output code values with their Oklab."""
        return Seen(signal, UNITS * light_to_oklab(self.output.to_light(signal)))

    def varied(self, i: int, z_i: float) -> tuple[Seen, Op]:
        """What the samples look like with only parameter ``i`` at ``z_i``, and its step so prepared."""
        z = self._z.copy()
        z[i] = z_i
        place = self._place[self.free[i].step]
        op = self._prepared(place, z)
        x = op(self._before[place])
        for into, own in zip(self._into[place + 1 : -1], self._own[place + 1 :], strict=True):
            for o in into:
                x = o(x)
            x = own(x)
        return self.looked_at(self._end(x)), op

    def function(self, i: int | None = None, op: Op | None = None) -> Callable[[Array], Array]:
        """The look as it stands, on code values (..., 3); with ``op`` in place of parameter i's step."""
        own = list(self._own)
        if i is not None and op is not None:
            own[self._place[self.free[i].step]] = op
        into, decode = self._into, self._decode

        def apply(x: Array) -> Array:
            x = np.asarray(x, np.float64)
            for o in decode:
                x = o(x)
            for before, mine in zip(into[:-1], own, strict=True):
                for o in before:
                    x = o(x)
                x = mine(x)
            for o in into[-1]:
                x = o(x)
            return x

        return apply
