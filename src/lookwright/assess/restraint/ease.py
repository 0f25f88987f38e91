"""Which parameter of a look to ease: found by trying every one it has, and measuring again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from lookwright.errors import LookwrightError

from .limits import BY_NAME, Measure
from .remember import Remembering, remembering
from .subject import Subject
from .trials import Trial, Tried
from .values import Measured, Value

if TYPE_CHECKING:
    from lookwright.look.recipe.model import Look

Measurement = Callable[[Subject], Measured]

WORTH = 0.05
"""Least gain, as a share of the harm, for a trial to be named as a remedy."""
CLEARLY = 1.5
"""How many times the harm left by going back toward neutral must be of that left by changing a parameter which has no
neutral value (the hue of a pole, the width of a band), for the change to be named: going back keeps the look."""
ENOUGH = 0.5
"""Harm below which one remedy is as good as another: nothing is left to watch. A change is not named for doing more."""
SERIOUS = 4
"""The best trials that are measured in full."""


class Ease:
    """Advice on one look.

    Parameters
    ----------
    subject, look
        The look as it was measured.
    measurements
        All that a look is measured by, for what a remedy would break elsewhere.
    harm
        Measure by name to the harm that was found.
    """

    def __init__(
        self,
        subject: Subject,
        look: Look,
        measurements: Sequence[Measurement],
        harm: Mapping[str, float],
    ) -> None:
        self._look, self._measurements, self._harm = look, measurements, harm
        self._limits = {name: limit.value for name, limit in look.limits.items()}
        self._tried = Tried(remembering(subject), look)
        self._known: dict[tuple[Measurement, str], Measured | None] = {}

    def prepare(self, quick: Iterable[Measurement]) -> None:
        """Put what these will ask of every parameter through the look at once, which is quicker."""
        if asked := tuple(dict.fromkeys(quick)):
            self._tried.ask(asked)

    def advise(self, value: Value, quick: Measurement, whole: Measurement) -> str:
        """A sentence naming the parameter whose easing lessens the harm most.

        Parameters
        ----------
        value
            What was found.
        quick
            Measures it again where it was worst, for every parameter.
        whole
            Measures it again in full, for the best of them.

        Returns
        -------
        str
            The parameter, from where to where, and what it brings; one that makes no other measure fail where there is
            such a one. ``strength`` where no single parameter helps.
        """
        measure = BY_NAME[value.measure]
        now = self._harm_of(measure, value.value)
        breaking = ""
        for trial, subject in self._best(measure, now, quick)[:SERIOUS]:
            then = self._value(measure, trial, subject, whole)
            if then is None or self._harm_of(measure, then) >= now * (1.0 - WORTH):
                continue
            unit = f" {measure.unit}" if measure.unit else ""
            verb = "Ease" if trial.back else "Change"
            sentence = f"{verb} {trial.label}: from {trial.before} to {trial.after} it would be {shown(then)}{unit}"
            broken = self._broken(trial, subject)
            if not broken:
                return f"{sentence}."
            breaking = breaking or f"{sentence}, but then {' and '.join(broken)} would fail."
        if breaking:
            return breaking
        if self._look.strength > 0.0:
            return f"No one parameter eases this much: lower the look's strength (now {self._look.strength:g})."
        return f"To mend it, {measure.remedy}."

    def _best(self, measure: Measure, now: float, quick: Measurement) -> list[tuple[Trial, Remembering]]:
        """The trials that lessen the harm, the best first."""
        found = []
        for trial, subject in self._tried.every:
            then = self._value(measure, trial, subject, quick)
            if then is not None and (harm := self._harm_of(measure, then)) < now * (1.0 - WORTH):
                rank = max(harm, ENOUGH) * (1.0 if trial.back else CLEARLY)
                found.append(((rank, harm), trial, subject))
        return [(trial, subject) for _, trial, subject in sorted(found, key=lambda f: f[0])]

    def _harm_of(self, measure: Measure, value: float) -> float:
        return measure.harm(value, self._limits.get(measure.name))

    def _value(self, measure: Measure, trial: Trial, subject: Subject, measurement: Measurement) -> float | None:
        measured = self._measured(trial, subject, measurement)
        if measured is None:
            return None
        return next((v.value for v in measured.values if v.measure == measure.name), None)

    def _measured(self, trial: Trial, subject: Subject, measurement: Measurement) -> Measured | None:
        """Remembered: one measurement serves several measures."""
        key = (measurement, f"{trial.label} {trial.after}")
        if key not in self._known:
            try:
                self._known[key] = measurement(subject)
            except LookwrightError:
                self._known[key] = None  # a value that this look cannot have is no remedy
        return self._known[key]

    def _broken(self, trial: Trial, subject: Subject) -> list[str]:
        """Titles of the measures that would fail with this trial and do not now."""
        broken = []
        for measurement in self._measurements:
            measured = self._measured(trial, subject, measurement)
            for v in measured.values if measured is not None else ():
                measure = BY_NAME[v.measure]
                if self._harm_of(measure, v.value) > 1.0 >= self._harm.get(v.measure, 0.0):
                    broken.append(measure.title)
        return broken


def shown(value: float) -> str:
    """Three significant digits without a needless exponent."""
    if abs(value) < 5e-4:
        return "0"
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}" if abs(value) >= 0.01 else f"{value:.2f}"
