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
FEW = 20_000
"""Colours of an array whose conversions are remembered too: three arrays more of the same size."""


class Remembering(Subject):
    """A subject that knows the code values of scenes, and their plain rendering, once it was asked for them."""

    fed: SignalFunction

    def feed(self, scene: Array) -> Array:
        return self.fed(np.asarray(scene, np.float64))

    def light(self, code: Array) -> Array:
        return self._seen("light", super().light, code)

    def oklab(self, code: Array) -> Array:
        return self._seen("oklab", super().oklab, code)

    def lab(self, code: Array) -> Array:
        return self._seen("lab", super().lab, code)

    def once(self, what: str, work: Callable[[], Array]) -> Array:
        return self.plain.named(what, work) if isinstance(self.plain, Answers) else work()

    def _seen(self, what: str, convert: SignalFunction, code: Array) -> Array:
        """``convert(code)``, worked out once where ``code`` is what the plain rendering gave."""
        return self.plain.made(what, convert, code) if isinstance(self.plain, Answers) else convert(code)

    def graded_by(self, function: SignalFunction, plain: SignalFunction | None = None) -> Remembering:
        """The same subject with another graded side, sharing what is known; ``plain`` where that changes too."""
        changed = replace(self, graded=function, plain=self.plain if plain is None else plain)
        object.__setattr__(changed, "fed", self.fed)
        return changed


def remembering(subject: Subject) -> Remembering:
    """``subject`` for measuring many times: its measures ask for the same colours each time."""
    values: dict[str, Any] = {f.name: getattr(subject, f.name) for f in fields(subject)}
    copy = Remembering(**{**values, "plain": Answers(subject.plain)})
    object.__setattr__(copy, "fed", Answers(subject.feed))
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


class Answers:
    """A function of code values that remembers its answers, and what was made of them.

    ``known`` are answers that it would give.
    """

    def __init__(self, function: SignalFunction, known: dict[Key, Array] | None = None) -> None:
        self._function = function
        self._known = {} if known is None else known
        self._named: dict[str, Array] = {}
        self._made: dict[int, dict[str, Array]] = {}
        """What was made of each answer, by the answer's identity; it lives as long as it is known."""

    def __call__(self, code: Array) -> Array:
        key = key_of(code)
        if key not in self._known:
            if len(self._known) >= MOST:
                self._known.clear()
                self._made.clear()
            self._known[key] = answer = self._function(code)
            if answer.size <= 3 * FEW:
                self._made[id(answer)] = {}
        return self._known[key]

    def named(self, what: str, work: Callable[[], Array]) -> Array:
        """``work()``, remembered under ``what``."""
        if what not in self._named:
            self._named[what] = work()
        return self._named[what]

    def made(self, what: str, convert: SignalFunction, answer: Array) -> Array:
        """``convert(answer)``, remembered under ``what`` if it is one of this function's own; not to be written to."""
        made = self._made.get(id(answer))
        if made is None:
            return convert(answer)
        if what not in made:
            made[what] = convert(answer)
        return made[what]
