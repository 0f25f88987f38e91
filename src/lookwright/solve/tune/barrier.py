"""Restraint as a barrier: the measures of ``check`` themselves, pressing from just before they would fail.

Nothing here defines harm or holds a limit; a measure added to ``restraint`` becomes a barrier by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.restraint.check import MEASUREMENTS
from lookwright.assess.restraint.clipping import clipping
from lookwright.assess.restraint.folds import hue_order
from lookwright.assess.restraint.limits import BY_NAME
from lookwright.assess.restraint.stills import Stills
from lookwright.assess.restraint.subject import Subject, subject_of_look
from lookwright.assess.restraint.values import Measured
from lookwright.look.recipe.model import Look
from lookwright.pictures.stills import Still

from .places import MEASURES, Greys, Noise, Skins

Function = Callable[[Array], Array]
Measurement = Callable[[Subject], Measured]
Watch = Callable[[Function], Iterable[tuple[str, Array]]]
"""(measure, values place by place) of a look on code values."""

ALWAYS: tuple[Measurement, ...] = (clipping, hue_order)
"""Watched at every step of the solver besides :mod:`places`. The others (folds, roughness, the stills themselves) ask
for many more colours; they are measured when a solution is found, and join the barrier when they fail."""

FROM = 0.95
"""Harm from which the barrier presses: just under the failing limit (1). What is asked for up to there is allowed."""
FULL = 0.05
"""Harm beyond :data:`FROM` that costs as much as one just visible difference over all data: at the failing limit."""
NEAR = 0.7
"""Harm from which a measure's slopes are worked out, so that the solver sees the limit before it runs into it."""


class Barrier:
    """Residuals of restraint for one look.

    Parameters
    ----------
    look
        The look as it starts; it names own limits and the plain rendering that measures compare with.
    stills
        (name, (n, 3) sampled code values) of stills, for the measures of clipping on pictures.
    """

    def __init__(self, look: Look, weight: float = 1.0, stills: Sequence[tuple[Path, Array]] = ()) -> None:
        subject = subject_of_look(look)
        # The plain rendering and the feed do not depend on creative parameters, and each measure asks for the same
        # colours each time.
        values = {f.name: getattr(subject, f.name) for f in fields(subject)}
        self.subject = _Remembering(**{**values, "plain": _remembered(subject.plain)})
        object.__setattr__(self.subject, "fed", _remembered(subject.feed))
        self.weight = weight
        self.watched: list[Watch] = [Skins(self.subject), Greys(self.subject), Noise(self.subject)]
        self._joined: list[Measurement] = []
        self._more: dict[str, float] = {}
        self.every: tuple[Measurement, ...] = (*MEASUREMENTS, *([_on_stills(stills)] if stills else []))
        self._limits = {n: limit.value for n, limit in look.limits.items()}
        self.join(ALWAYS)

    def join(self, measurements: Sequence[Measurement]) -> bool:
        """Watch these at every step from now on; whether any is new."""
        new = [m for m in measurements if m not in self._joined]
        self._joined += new
        self.watched += [self._as_watch(m) for m in new]
        return bool(new)

    def _as_watch(self, measurement: Measurement) -> Watch:
        def watch(function: Function) -> Iterable[tuple[str, Array]]:
            for v in measurement(self._of(function)).values:
                if v.measure not in MEASURES:  # those are watched already, without corners
                    yield v.measure, np.array([v.value])

        return watch

    def _of(self, function: Function) -> Subject:
        subject = replace(self.subject, graded=function)
        object.__setattr__(subject, "fed", self.subject.fed)
        return subject

    def harm(self, function: Function, which: Sequence[Measurement]) -> dict[str, float]:
        """Measure by name to harm (0 none, 1 the failing limit)."""
        subject = self._of(function)
        found: dict[str, float] = {}
        for measurement in which:
            for value in measurement(subject).values:
                found[value.measure] = BY_NAME[value.measure].harm(value.value, self._limits.get(value.measure))
        return found

    def measure(self, function: Function) -> list[Array]:
        """Harm at every place watched, in one array for each of :attr:`watched`; below 0 on the better side."""
        return [self.of(function, w) for w in self.watched]

    def of(self, function: Function, watch: Watch) -> Array:
        """Harm at every place of one watch."""
        return np.concatenate([np.zeros(0), *(self._harm(name, values) for name, values in watch(function))])

    def _harm(self, name: str, values: Array) -> Array:
        """:meth:`Measure.harm` for many values, going on straight below 0."""
        measure = BY_NAME[name]
        limit = self._limits.get(name, measure.fail)
        watch = measure.watch_for(limit)
        first = (values - measure.ideal) / (watch - measure.ideal)
        harm = np.where(first <= 1.0, 0.5 * first, 0.5 + 0.5 * (values - watch) / (limit - watch))
        return harm + self._more.get(name, 0.0)

    def align(self, harm: Mapping[str, float], function: Function) -> None:
        """Read these measures as high as they were found to be, where their places are read lower."""
        for watch in self.watched:
            for name, values in watch(function):
                if name in harm and len(values):
                    missing = harm[name] - float(self._harm(name, values).max())
                    self._more[name] = max(0.0, self._more.get(name, 0.0) + missing)

    def all_harm(self, function: Function) -> dict[str, float]:
        """Every measure of the check, to its harm."""
        return self.harm(function, self.every)

    def measurements_of(self, names: Sequence[str], function: Function) -> list[Measurement]:
        """Which measurements give these measures, but for those that are held place by place."""
        wanted = set(names) - set(MEASURES)
        return [m for m in self.every if wanted & set(self.harm(function, [m]))] if wanted else []


def all_harm(look: Look) -> dict[str, float]:
    """Every measure of ``check`` on a look, to its harm."""
    subject = subject_of_look(look)
    limits = {n: limit.value for n, limit in look.limits.items()}
    values = [v for measurement in MEASUREMENTS for v in measurement(subject).values]
    return {v.measure: BY_NAME[v.measure].harm(v.value, limits.get(v.measure)) for v in values}


class _Remembering(Subject):
    """A subject that knows the code values of scenes it was asked for before."""

    fed: Callable[[Array], Array]

    def feed(self, scene: Array) -> Array:
        return self.fed(np.asarray(scene, np.float64))


def _on_stills(stills: Sequence[tuple[Path, Array]]) -> Measurement:
    """The measures of clipping on pictures, on sampled pixels; skin marks are a goal's matter, not measured here."""
    pictures = [Still(np.asarray(codes, np.float32)[None], None, "float", path) for path, codes in stills]

    def on_stills(subject: Subject) -> Measured:
        gathered = Stills()
        seen = replace(subject, graded_picture=_as_picture(subject.graded), plain_picture=_as_picture(subject.plain))
        for still in pictures:
            gathered.add(seen, still, [])
        return Measured(list(gathered.worst.values()))

    return on_stills


def _as_picture(function: Function) -> Callable[[NDArray[np.float32]], NDArray[np.float32]]:
    return lambda pixels: np.asarray(function(np.asarray(pixels, np.float64)), np.float32)


def _remembered(plain: Callable[[Array], Array]) -> Callable[[Array], Array]:
    known: dict[tuple[tuple[int, ...], bytes], Array] = {}

    def apply(code: Array) -> Array:
        key = (code.shape, code.tobytes())
        if key not in known:
            known[key] = plain(code)
        return known[key]

    return apply
