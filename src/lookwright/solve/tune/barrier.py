"""Restraint as a barrier: the measures of ``check`` themselves, pressing from just before they would fail.

Nothing here defines harm or holds a limit; a measure added to ``restraint`` becomes a barrier by itself. A measure of
the check is the worst of many places. A step that knows only the present worst runs into the next one, and a size has
a corner at zero, where a look starts; so the solver is told the places, each with its sign.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.restraint.check import MEASUREMENTS
from lookwright.assess.restraint.folds import hue_order
from lookwright.assess.restraint.limits import BY_NAME
from lookwright.assess.restraint.neutrals import neutrals
from lookwright.assess.restraint.noise import noise
from lookwright.assess.restraint.remember import exact_pictures, remembering
from lookwright.assess.restraint.skin import skin
from lookwright.assess.restraint.stills import shares_lost
from lookwright.assess.restraint.subject import Subject, subject_of_look
from lookwright.assess.restraint.tone import tone
from lookwright.assess.restraint.values import Measured
from lookwright.look.recipe.model import Look

Function = Callable[[Array], Array]
Measurement = Callable[[Subject], Measured]

ALWAYS: tuple[Measurement, ...] = (skin, neutrals, tone, noise, hue_order)
"""Watched at every step of the solver. The others (folds, surfaces, banding, the stills themselves) ask for many more
colours; they are measured when a solution is found, and join the barrier when they fail."""

MOST = 256
"""Places of one measure that the solver is told; where there are more, the worst of so many neighbours each."""

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
        # The plain rendering and the feed do not depend on creative parameters, and each measure asks for the same
        # colours each time.
        self.subject = remembering(subject_of_look(look))
        self.weight = weight
        self.watched: list[Measurement] = []
        self.every: tuple[Measurement, ...] = (*MEASUREMENTS, *([_on_stills(stills)] if stills else []))
        self._limits = {n: limit.value for n, limit in look.limits.items()}
        self.join(ALWAYS)

    def join(self, measurements: Sequence[Measurement]) -> bool:
        """Watch these at every step from now on; whether any is new."""
        new = [m for m in measurements if m not in self.watched]
        self.watched += new
        return bool(new)

    def join_failing(self, function: Function) -> bool:
        """Watch from now on what fails at ``function``; whether any is new."""
        others = [m for m in self.every if m not in self.watched]
        return self.join([m for m in others if max(self.harm(function, [m]).values(), default=0.0) > 1.0])

    def harm(self, function: Function, which: Sequence[Measurement]) -> dict[str, float]:
        """Measure by name to harm (0 none, 1 the failing limit)."""
        subject = self.subject.graded_by(function)
        found: dict[str, float] = {}
        for measurement in which:
            for value in measurement(subject).values:
                harm = BY_NAME[value.measure].harm(value.value, self._limits.get(value.measure))
                found[value.measure] = max(harm, found.get(value.measure, 0.0))  # one measure of several stills
        return found

    def of(self, function: Function, measurement: Measurement) -> Array:
        """Harm at the places of one measurement, its measures one after the other."""
        found = [
            _fewer(BY_NAME[p.measure].signed_harm(p.values, self._limits.get(p.measure)))
            for p in measurement(self.subject.graded_by(function)).places
        ]
        return np.concatenate([np.zeros(0), *found])

    def all_harm(self, function: Function) -> dict[str, float]:
        """Every measure of the check, to its harm."""
        return self.harm(function, self.every)

    def measurements_of(self, names: Sequence[str], function: Function) -> list[Measurement]:
        """Which measurements give these measures."""
        return [m for m in self.every if set(names) & set(self.harm(function, [m]))]


def all_harm(look: Look) -> dict[str, float]:
    """Every measure of ``check`` on a look, to its harm."""
    subject = subject_of_look(look)
    limits = {n: limit.value for n, limit in look.limits.items()}
    values = [v for measurement in MEASUREMENTS for v in measurement(subject).values]
    return {v.measure: BY_NAME[v.measure].harm(v.value, limits.get(v.measure)) for v in values}


def _fewer(harm: Array) -> Array:
    """At most :data:`MOST` values of (n,): the worst of every few neighbours."""
    if len(harm) <= MOST:
        return harm
    return np.maximum.reduceat(harm, np.arange(0, len(harm), -(-len(harm) // MOST)))


def _on_stills(stills: Sequence[tuple[Path, Array]]) -> Measurement:
    """The measures of clipping on pictures, on sampled pixels; skin marks are a goal's matter, not measured here."""
    pictures = [(path.name, np.asarray(codes, np.float32)[None]) for path, codes in stills]

    def on_stills(subject: Subject) -> Measured:
        exact = exact_pictures(subject)
        return Measured([place for name, pixels in pictures for place in shares_lost(exact, pixels, name).places])

    return on_stills
