"""Which parameter of a look to ease: found by trying, not by guessing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from lookwright.errors import LookwrightError
from lookwright.look.steps.params import Declared, ParamInfo, info_of

from .limits import Measure

if TYPE_CHECKING:
    from lookwright.look.recipe.model import Look

SHARE = 0.3
"""How far a parameter is moved toward its neutral value for the trial."""
WORTH = 0.05
"""Least gain, as a share of the harm, for a trial to be named as a remedy."""

# Parameters without a neutral value that still ease something: the value they are moved toward.
_TOWARD = {
    "split.hold.amount": 1.0,
    "split.width": 5.0,
    "gamut.limit": 4.0,
    "gamut.threshold": 0.5,
    "contrast.shoulder": 1.0,
    "print.density_max": 4.2,
    "print.toe": 0.3,
    "print.shoulder": 0.6,
    "print.print_gamma": 2.0,
    "print.grey_density": 1.0,
    "print.coupling": 0.0,
    "print.finish": 0.0,
    "print.flare": 0.0,
    "print.printer_red": 0.0,
    "print.printer_green": 0.0,
    "print.printer_blue": 0.0,
}


def trials(look: Look, measure: Measure) -> Iterator[tuple[str, float, float, Look]]:
    """(parameter, value now, value tried, look with it) for each of the measure's parameters that the look uses."""
    for path in measure.ease:
        kind, *names = path.split(".")
        for i, step in enumerate(look.steps):
            if step.kind != kind or not step.on:
                continue
            for label, now, then, changed in _eased(step, names, path):
                steps = (*look.steps[:i], changed, *look.steps[i + 1 :])
                same = [s for s in look.steps if s.kind == kind]
                number = f" (step {i + 1})" if len(same) > 1 else ""
                yield f"{kind}.{label}{number}", now, then, look.model_copy(update={"steps": steps})


def _eased(group: Any, names: list[str], path: str) -> Iterator[tuple[str, float, float, Any]]:
    """Changed copies of a step or of a group within it."""
    name, rest = names[0], names[1:]
    value = getattr(group, name, None)
    if rest and isinstance(value, Declared):
        for label, now, then, changed in _eased(value, rest, path):
            yield f"{name}.{label}", now, then, group.model_copy(update={name: changed})
        return
    if rest and isinstance(value, tuple):
        for i, item in enumerate(value):
            for label, now, then, changed in _eased(item, rest, path):
                items = (*value[:i], changed, *value[i + 1 :])
                yield f"{name}.{i + 1}.{label}", now, then, group.model_copy(update={name: items})
        return
    field = type(group).model_fields.get(name)
    declared = info_of(field) if field is not None else None
    if declared is None:
        return
    if isinstance(value, tuple):
        then_all = tuple(_moved(float(v), declared, path) for v in value)
        largest = max(range(len(value)), key=lambda i: abs(value[i] - then_all[i]))
        if then_all != value:
            yield name, value[largest], then_all[largest], group.model_copy(update={name: then_all})
    elif isinstance(value, (int, float)):
        then = _moved(float(value), declared, path)
        if abs(then - value) > 1e-9:
            yield name, float(value), then, group.model_copy(update={name: then})


def _moved(value: float, declared: ParamInfo, path: str) -> float:
    target = _TOWARD.get(path, declared.neutral)
    if target is None:
        return value
    moved = value + SHARE * (min(max(target, declared.low), declared.high) - value)
    return float(f"{moved:.3g}")


def advise(look: Look, measure: Measure, value: float, again: Callable[[Look], float], fail: float) -> str:
    """A sentence naming the parameter whose easing lessens the harm most, tried by measuring again.

    ``again`` measures a changed look. Falls back to ``strength`` where no single parameter helps.
    """
    now = measure.harm(value, fail)
    best: tuple[float, str] | None = None
    for label, before, after, changed in trials(look, measure):
        try:
            then = again(changed)
        except LookwrightError:
            continue  # a value that this look cannot have is no remedy
        harm = measure.harm(then, fail)
        if harm < now * (1.0 - WORTH) and (best is None or harm < best[0]):
            unit = f" {measure.unit}" if measure.unit else ""
            best = harm, f"Ease {label}: from {before:g} to {after:g} it would be {shown(then)}{unit}."
    if best is not None:
        return best[1]
    if look.strength > 0.0:
        return f"No one parameter eases this much: lower the look's strength (now {look.strength:g})."
    return f"To mend it, {measure.remedy}."


def shown(value: float) -> str:
    """Three significant digits without a needless exponent."""
    if abs(value) < 5e-4:
        return "0"
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}" if abs(value) >= 0.01 else f"{value:.2f}"
