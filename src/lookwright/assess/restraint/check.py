"""Every measure on one subject, held against the limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from lookwright.pictures.stills import CodedStill, Mark, Still

from .banding import banding
from .clipping import clipping
from .degenerate import demand_colours
from .ease import Ease
from .effect import effect
from .files import closing, remedy
from .folds import folds, hue_order
from .limits import BY_NAME, Measure, State, check_limits
from .memory import memory
from .neutrals import neutrals
from .noise import noise
from .report import Finding, Report, Where, in_order
from .skin import skin
from .stills import Stills
from .subject import Subject
from .surfaces import colours
from .tone import tone
from .values import NOTHING, Measured, Value
from .verdict import verdict

Measurement = Callable[[Subject], Measured]

MEASUREMENTS: tuple[Measurement, ...] = (
    skin,
    memory,
    colours,
    neutrals,
    tone,
    folds,
    hue_order,
    noise,
    clipping,
    banding,
)

SAME = 5e-4
"""Values this near to the ideal are reported as no change: the figures shown would be zero."""


def check(
    subject: Subject,
    stills: Iterable[tuple[Still | CodedStill, Sequence[Mark]]] = (),
    seen: Callable[[Still | CodedStill], None] = lambda still: None,
    advised: bool = True,
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
    advised
        Whether to try what would ease each finding of a look: some five times the work of the measures themselves.

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
    where: dict[str, Where] = {}
    for measurement in MEASUREMENTS:
        measured = measurement(subject)
        plots |= measured.plots
        quick = measured.again or measurement
        found += [_Found(v, measured.alone.get(v.measure, quick), measurement) for v in measured.values]
        where |= _where(subject, measured)
    harm = {f.value.measure: f.harm(subject) for f in found}
    ease = None if subject.look is None or not advised else Ease(subject, subject.look, MEASUREMENTS, harm)
    first = _findings(subject, found, ease, advised)  # before the stills, which are being decoded meanwhile
    gathered = Stills()
    for still, marks in stills:
        gathered.add(subject, still, marks)
        seen(still)
    on_stills = [_Found(w.value, w.quick, w.whole) for w in gathered.worst.values()]
    findings = in_order([*first, *_findings(subject, on_stills, ease, advised)])
    return Report(
        subject.name,
        subject.source.describe(),
        subject.output.describe(),
        subject.note,
        findings,
        verdict(findings),
        effect(subject, gathered.moved),
        "" if subject.look is not None else closing(subject, findings, MEASUREMENTS),
        tuple(gathered.reports),
        plots,
        where=where,
    )


def _where(subject: Subject, measured: Measured) -> dict[str, Where]:
    """The places of what is not ok."""
    found = {}
    for places in measured.places:
        if places.at is None:
            continue
        measure, own = BY_NAME[places.measure], subject.limits.get(places.measure)
        watch = measure.watch if own is None else measure.watch_for(own.value)
        count = len(places.at)
        whole = places.values[: len(places.values) // count * count].reshape(-1, count)
        judged = np.isfinite(places.at).all(axis=1) & np.isfinite(whole).any(axis=0)
        filled = np.nan_to_num(whole, nan=measure.ideal)
        harmful = np.asarray((measure.side * filled > measure.side * watch).any(axis=0))
        if harmful[judged].any():
            found[places.measure] = Where(places.at[judged], harmful[judged])
    return found


@dataclass(frozen=True)
class _Found:
    """The worst of one measure, and how it is measured again."""

    value: Value
    quick: Measurement
    whole: Measurement

    @property
    def measure(self) -> Measure:
        """What was measured."""
        return BY_NAME[self.value.measure]

    def limit(self, subject: Subject) -> float:
        """The failing limit: the look's own where it has one."""
        own = subject.limits.get(self.value.measure)
        return self.measure.fail if own is None else own.value

    def state(self, subject: Subject) -> State:
        """Against that limit."""
        return self.measure.state(self.value.value, self.limit(subject))

    def harm(self, subject: Subject) -> float:
        """Against that limit."""
        return self.measure.harm(self.value.value, self.limit(subject))


def _unchanged(value: Value, measure: Measure) -> bool:
    return abs(value.value - measure.ideal) < SAME and value.found != NOTHING


def _findings(subject: Subject, found: Sequence[_Found], ease: Ease | None, advised: bool) -> list[Finding]:
    if ease is not None:
        ease.prepare(f.quick for f in found if f.state(subject) != "ok")
    findings = []
    for f in found:
        measure, value, limit = f.measure, f.value, f.limit(subject)
        own = subject.limits.get(measure.name)
        state = f.state(subject)
        advice = ""
        if state != "ok" and advised:
            advice = f"{remedy(measure, subject)}." if ease is None else ease.advise(value, f.quick, f.whole)
        findings.append(
            Finding(
                measure.name,
                measure.title,
                value.value,
                measure.unit,
                measure.watch_for(limit),
                limit,
                state,
                f.harm(subject),
                "as plainly rendered" if _unchanged(value, measure) else value.found,
                advice,
                measure.reason,
                measure.source,
                "" if own is None else f"the look's own limit, {own.value:g} instead of {measure.fail:g}: {own.reason}",
            )
        )
    return findings
