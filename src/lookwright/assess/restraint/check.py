"""Every measure on one subject, held against the limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lookwright.arrays import Array
from lookwright.pictures.stills import Mark, Still

from .clipping import clipping
from .degenerate import demand_colours
from .ease import Ease, shown
from .folds import folds, hue_order
from .limits import BY_NAME, Measure, check_limits
from .neutrals import neutrals
from .noise import noise
from .report import Finding, Report, in_order
from .roughness import roughness
from .skin import skin
from .stills import Stills
from .subject import Subject
from .tone import tone
from .values import NOTHING, Measured, Value

Measurement = Callable[[Subject], Measured]

MEASUREMENTS: tuple[Measurement, ...] = (
    skin,
    neutrals,
    tone,
    folds,
    hue_order,
    noise,
    clipping,
    roughness,
)

SAME = 5e-4
"""Values this near to the ideal are reported as no change: the figures shown would be zero."""


def check(
    subject: Subject,
    stills: Iterable[tuple[Still, Sequence[Mark]]] = (),
    seen: Callable[[Still], None] = lambda still: None,
) -> Report:
    """Measure a look or a LUT.

    Parameters
    ----------
    subject
        From :func:`subject.subject_of_look`, :func:`subject.subject_of_lut` or :func:`subject.foreign`.
    stills
        Stills in the source signal with their marks; read one at a time when given as a generator. Those with the role
        ``skin`` are judged.
    seen
        Called with each still after it was measured, for a progress line or for pictures.

    Returns
    -------
    Report
        Findings in order of harm.

    Raises
    ------
    RecipeErrors
        For a look's own limit on a measure that there is none of.
    LookwrightError
        For one that gives a single colour whatever it is fed, or values of another scale than 0..1.
    """
    check_limits(subject.limits, subject.name)
    demand_colours(subject)
    found: list[_Found] = []
    plots: dict[str, Any] = {}
    for measurement in MEASUREMENTS:
        measured = measurement(subject)
        plots |= measured.plots
        found += [_Found(v, measured.again or measurement, measurement) for v in measured.values]
    gathered = Stills()
    for still, marks in stills:
        gathered.add(subject, still, marks)
        seen(still)
    found += [_Found(w.value, w.quick, w.whole, on_still=True) for w in gathered.worst.values()]
    return Report(
        subject.name,
        subject.source.describe(),
        subject.output.describe(),
        subject.note,
        in_order(_findings(subject, found)),
        tuple(gathered.reports),
        plots,
    )


@dataclass(frozen=True)
class _Found:
    """The worst of one measure, and how it is measured again."""

    value: Value
    quick: Measurement
    whole: Measurement
    on_still: bool = False

    @property
    def measure(self) -> Measure:
        """What was measured."""
        return BY_NAME[self.value.measure]

    def limit(self, subject: Subject) -> float:
        """The failing limit: the look's own where it has one."""
        own = subject.limits.get(self.value.measure)
        return self.measure.fail if own is None else own.value

    def harm(self, subject: Subject) -> float:
        """Against that limit."""
        return self.measure.harm(self.value.value, self.limit(subject))


def _unchanged(value: Value, measure: Measure) -> bool:
    return abs(value.value - measure.ideal) < SAME and value.found != NOTHING


def _findings(subject: Subject, found: Sequence[_Found]) -> list[Finding]:
    harm = {f.value.measure: f.harm(subject) for f in found}
    ease = None if subject.look is None else Ease(subject, subject.look, MEASUREMENTS, harm)
    findings = []
    for f in found:
        measure, value, limit = f.measure, f.value, f.limit(subject)
        own = subject.limits.get(measure.name)
        state = measure.state(value.value, limit)
        advice = ""
        if state != "ok":
            advice = _advice_on_lut(subject, f) if ease is None else ease.advise(value, f.quick, f.whole)
        findings.append(
            Finding(
                measure.name,
                measure.title,
                value.value,
                measure.unit,
                measure.watch_for(limit),
                limit,
                state,
                harm[measure.name],
                "as plainly rendered" if _unchanged(value, measure) else value.found,
                advice,
                measure.reason,
                "" if own is None else f"the look's own limit, {own.value:g} instead of {measure.fail:g}: {own.reason}",
            )
        )
    return findings


AMOUNTS = (0.75, 0.5, 0.25)
"""Shares of a foreign LUT that are tried."""


def _advice_on_lut(subject: Subject, found: _Found) -> str:
    """A LUT has no parameters; where it takes and gives the same signal it can be used at part of its strength."""
    measure = found.measure
    if subject.source == subject.output and not found.on_still and "part of its strength" in measure.remedy:
        for amount in AMOUNTS:
            then = next(v.value for v in found.whole(mixed(subject, amount)).values if v.measure == measure.name)
            if measure.state(then, found.limit(subject)) == "ok":
                unit = f" {measure.unit}" if measure.unit else ""
                return f"As a step 'lut' of a look, with amount {amount:g} it would be {shown(then)}{unit}."
    return f"A LUT has no parameters to ease; instead, {measure.remedy}."


def mixed(subject: Subject, amount: float) -> Subject:
    """A subject whose source and output are the same signal, at a share of its effect, as the step ``lut`` does it."""

    def graded(signal: Array) -> Array:
        return signal + amount * (subject.graded(signal) - signal)

    return replace(subject, graded=graded)
