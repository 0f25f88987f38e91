"""Small changes of a look on fixed points, followed to the end of its path.

A slope by a parameter needs the path behind the step that the parameter moves. Run for each parameter, that is fifty
runs; but what the path makes of a small change is three numbers a channel, the same for all parameters. So those are
worked out once for each place of the path, from the end backward (the chain rule; reverse accumulation as in Griewank &
Walther, "Evaluating Derivatives", chapter 3), and each parameter costs its own step alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lookwright.arrays import Array

from .staged import Part, through

STEP = 1e-5
"""Difference of one channel, as a share of the colour's largest: far from rounding, and under what steps fade over
beside neutrals."""
LEAST = 1e-6
"""Size of a colour under which the difference stays: black has slopes too."""


class Followed:
    """Fixed points behind every part of a path, and what becomes of small changes there.

    Changes are followed through scene light only. Display light that was fitted lies on a face of what the output can
    show, where one channel is 0 and its encoding infinitely steep: changes stay on that face, their channels do not.

    Parameters
    ----------
    points
        (n, 3) float64 source signal.
    parts
        The look as it stands.
    """

    def __init__(self, points: Array, parts: Sequence[Part]) -> None:
        self._parts = list(parts)
        self._behind = [points]
        """(n, 3) each: the points, and what they are behind each part."""
        for part in parts:
            self._behind.append(through([part], self._behind[-1]))
        self._to_end: dict[int, Array] = {}
        """(3, 3, n) derivatives of the output signal by what each part takes that stands behind a step, [out, in]."""

    @property
    def end(self) -> Array:
        """(n, 3) output signal of the look as it stands."""
        return self._behind[-1]

    def follow(self) -> None:
        """Work out what becomes of small changes, once; :meth:`near` needs it."""
        end = len(self._parts)
        for k in range(0 if self._to_end else end - 1, 1, -1):
            if self._parts[k].takes != "display":
                own = slopes(self._parts[k:end], self._behind[k], self._behind[end])
                self._to_end[k] = own if end == len(self._parts) else np.einsum("ijn,jkn->ikn", self._to_end[end], own)
                end = k

    def near(self, parts: Sequence[Part]) -> Array:
        """(n, 3) output signal of a look a little beside the one that stands: to first order in what its parts change.

        Where the look has other parts altogether it is run as it is.
        """
        if len(parts) != len(self._parts):
            return through(parts, self._behind[0])
        moved = [k for k, (one, other) in enumerate(zip(parts, self._parts, strict=True)) if one.key != other.key]
        if not moved:
            return self._behind[-1]
        first, end = moved[0], self._scene_from(moved[-1] + 1)
        there = through(parts[first:end], self._behind[first])
        if end == len(parts):
            return there
        return self._behind[-1] + np.einsum("ijn,nj->ni", self._to_end[end], there - self._behind[end])

    def _scene_from(self, k: int) -> int:
        """The first part from ``k`` on that takes scene light, or the end."""
        while k < len(self._parts) and self._parts[k].takes == "display":
            k += 1
        return k


def slopes(parts: Sequence[Part], x: Array, y: Array) -> Array:
    """(3, 3, n) forward differences of parts that make ``y`` (n, 3) of ``x`` (n, 3), [out, in]."""
    step = STEP * np.maximum(np.abs(x).max(axis=1), LEAST)
    moved = np.repeat(x[None], 3, axis=0)
    for channel in range(3):
        moved[channel, :, channel] += step
    there = through(parts, moved.reshape(-1, 3)).reshape(moved.shape)
    return np.asarray(np.transpose(there - y, (2, 0, 1)) / step, np.float64)
