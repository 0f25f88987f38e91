"""A subject measured again and again: what does not depend on the graded side is worked out once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import numpy as np

from lookwright.arrays import Array, Pixels

from .subject import Subject

SignalFunction = Callable[[Array], Array]

MOST = 64
"""Arrays that are remembered. The measures ask for some fifteen each time; those of folds depend on what clips."""


class Remembering(Subject):
    """A subject that knows the code values of scenes, and their plain rendering, once it was asked for them."""

    fed: SignalFunction

    def feed(self, scene: Array) -> Array:
        return self.fed(np.asarray(scene, np.float64))

    def graded_by(self, function: SignalFunction, plain: SignalFunction | None = None) -> Remembering:
        """The same subject with another graded side, sharing what is known; ``plain`` where that changes too."""
        changed = replace(self, graded=function, plain=self.plain if plain is None else plain)
        object.__setattr__(changed, "fed", self.fed)
        return changed


def remembering(subject: Subject) -> Remembering:
    """``subject`` for measuring many times: its measures ask for the same colours each time."""
    values: dict[str, Any] = {f.name: getattr(subject, f.name) for f in fields(subject)}
    copy = Remembering(**{**values, "plain": remembered(subject.plain)})
    object.__setattr__(copy, "fed", remembered(subject.feed))
    return copy


def exact_pictures(subject: Subject) -> Subject:
    """The same subject with pictures through its exact functions: for a few thousand pixels quicker than a lattice."""
    return replace(subject, graded_picture=_as_picture(subject.graded), plain_picture=_as_picture(subject.plain))


def _as_picture(function: SignalFunction) -> Callable[[Pixels], Pixels]:
    return lambda pixels: np.asarray(function(np.asarray(pixels, np.float64)), np.float32)


Key = tuple[tuple[int, ...], bytes]
"""Of an array: equal for equal ones."""


def key_of(code: Array) -> Key:
    """The key under which what becomes of an array is remembered."""
    return code.shape, code.tobytes()


def remembered(function: SignalFunction, known: dict[Key, Array] | None = None) -> SignalFunction:
    """``function``, with what it gave; ``known`` is what it would give."""
    known = {} if known is None else known

    def apply(code: Array) -> Array:
        key = key_of(code)
        if key not in known:
            if len(known) >= MOST:
                known.clear()
            known[key] = function(code)
        return known[key]

    return apply
