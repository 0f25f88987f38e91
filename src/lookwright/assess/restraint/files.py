"""What to do with a LUT file that fails: it has no parameters, but it may be laid on in part."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from lookwright.arrays import Array

from .limits import BY_NAME, Measure
from .report import Finding
from .subject import Subject
from .values import Measured

AMOUNTS = (0.75, 0.5, 0.25)
"""Shares of a LUT that are tried."""


IN_PART = "use the LUT at part of its strength"
"""How a remedy says so in ``limits/``."""


def remedy(measure: Measure, subject: Subject) -> str:
    """What to do in words, as a sentence without its full stop."""
    # One that turns a log signal into a picture cannot be laid on in part.
    text = measure.remedy if subject.source == subject.output else measure.remedy.replace(IN_PART, "use a gentler LUT")
    return text[:1].upper() + text[1:]


def closing(
    subject: Subject, findings: Sequence[Finding], measurements: Sequence[Callable[[Subject], Measured]]
) -> str:
    """One paragraph for a LUT file, from its findings in order of harm; empty where nothing fails.

    One that takes and gives the same signal can be used at part of its strength; the greatest of :data:`AMOUNTS` at
    which nothing fails any more is found by measuring.
    """
    failing = [f for f in findings if f.state == "fail" and not f.measure.startswith("still_")]
    if not failing:
        return ""
    start = "A LUT file cannot be eased in parts."
    if subject.source != subject.output:
        return (
            f"{start} This one also turns {subject.source.encoding.name} into a picture, so it cannot be laid on at "
            "part of "
            "its strength either: use another, or build the look as a recipe, whose parameters can be eased."
        )
    limits = {f.measure: f.limit for f in findings}
    left: list[str] = []
    for amount in AMOUNTS:
        left = _failing(mixed(subject, amount), limits, measurements)
        if not left:
            return (
                f"{start} But at {100 * amount:.0f} % of its strength nothing fails: lay it on as a step 'lut' of a "
                "look, "
                f"with amount {amount:g}."
            )
    return (
        f"{start} Even at {100 * AMOUNTS[-1]:.0f} % of its strength {' and '.join(left[:2])} would fail: use another, "
        "or "
        "build the look as a recipe, whose parameters can be eased."
    )


def _failing(
    subject: Subject, limits: dict[str, float], measurements: Sequence[Callable[[Subject], Measured]]
) -> list[str]:
    """Titles of the measures that fail."""
    values = [v for measurement in measurements for v in measurement(subject).values]
    return [
        BY_NAME[v.measure].title for v in values if BY_NAME[v.measure].state(v.value, limits.get(v.measure)) == "fail"
    ]


def mixed(subject: Subject, amount: float) -> Subject:
    """A subject whose source and output are the same signal, at a share of its effect, as the step ``lut`` does it."""

    def graded(signal: Array) -> Array:
        return signal + amount * (subject.graded(signal) - signal)

    return replace(subject, graded=graded)
