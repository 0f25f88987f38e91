"""Every measure on one subject, held against the limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

from lookwright.arrays import Array
from lookwright.look.recipe.model import Look
from lookwright.pictures.stills import Mark, Still

from .clipping import clipping
from .ease import advise, shown
from .folds import folds, hue_order
from .limits import BY_NAME, check_limits
from .neutrals import neutrals
from .noise import noise
from .report import Finding, Report, in_order
from .roughness import roughness
from .skin import skin
from .stills import Stills
from .subject import Subject, subject_of_look
from .tone import tone
from .values import Measured, Value

MEASUREMENTS: tuple[Callable[[Subject], Measured], ...] = (
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
    """
    check_limits(subject.limits, subject.name)
    findings: list[Finding] = []
    plots: dict[str, Any] = {}
    for measurement in MEASUREMENTS:
        measured = measurement(subject)
        plots |= measured.plots
        findings += [_finding(subject, value, measurement) for value in measured.values]
    gathered = Stills()
    for still, marks in stills:
        gathered.add(subject, still, marks)
        seen(still)
    findings += [_finding(subject, value, None) for value in gathered.worst.values()]
    return Report(
        subject.name,
        subject.source.describe(),
        subject.output.describe(),
        subject.note,
        in_order(findings),
        tuple(gathered.reports),
        plots,
    )


def _finding(subject: Subject, value: Value, measurement: Callable[[Subject], Measured] | None) -> Finding:
    measure = BY_NAME[value.measure]
    own = subject.limits.get(measure.name)
    limit = measure.fail if own is None else own.value
    state = measure.state(value.value, limit)
    advice = ""
    same = abs(value.value - measure.ideal) < SAME
    if state != "ok":
        advice = _advice(subject, value, measurement, limit)
    return Finding(
        measure.name,
        measure.title,
        value.value,
        measure.unit,
        measure.watch_for(limit),
        limit,
        state,
        measure.harm(value.value, limit),
        "as plainly rendered" if same else value.found,
        advice,
        measure.reason,
        "" if own is None else f"the look's own limit, {own.value:g} instead of {measure.fail:g}: {own.reason}",
    )


def _advice(subject: Subject, value: Value, measurement: Callable[[Subject], Measured] | None, limit: float) -> str:
    measure = BY_NAME[value.measure]
    if subject.look is None:
        return _advice_on_lut(subject, value, measurement, limit)
    if measurement is None:  # on stills: measuring again would mean reading them again
        used = {f"{s.kind}." for s in subject.look.steps if s.on}
        names = [p for p in measure.ease if any(p.startswith(u) for u in used)][:3]
        return f"Ease {', '.join(names)}." if names else f"To mend it, {measure.remedy}."

    def again(look: Look) -> float:
        values = measurement(subject_of_look(look)).values
        return next(v.value for v in values if v.measure == value.measure)

    return advise(subject.look, measure, value.value, again, limit)


AMOUNTS = (0.75, 0.5, 0.25)
"""Shares of a foreign LUT that are tried."""


def _advice_on_lut(
    subject: Subject, value: Value, measurement: Callable[[Subject], Measured] | None, limit: float
) -> str:
    """A LUT has no parameters; where it takes and gives the same signal it can be used at part of its strength."""
    measure = BY_NAME[value.measure]
    if subject.source == subject.output and measurement is not None and "part of its strength" in measure.remedy:
        for amount in AMOUNTS:
            then = next(v.value for v in measurement(mixed(subject, amount)).values if v.measure == value.measure)
            if measure.state(then, limit) == "ok":
                unit = f" {measure.unit}" if measure.unit else ""
                return f"As a step 'lut' of a look, with amount {amount:g} it would be {shown(then)}{unit}."
    return f"A LUT has no parameters to ease; instead, {measure.remedy}."


def mixed(subject: Subject, amount: float) -> Subject:
    """A subject whose source and output are the same signal, at a share of its effect, as the step ``lut`` does it."""

    def graded(signal: Array) -> Array:
        return signal + amount * (subject.graded(signal) - signal)

    return replace(subject, graded=graded)
