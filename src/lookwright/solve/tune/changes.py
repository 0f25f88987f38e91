"""Each parameter's story: where it went, how surely, on which bound, and what it did for which goal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lookwright.arrays import Array

from .free import Free
from .identify import SIGMAS, SURE, information
from .outcome import Change, Status
from .problem import Problem

TOGETHER = 0.5
"""Correlation from which two parameters are said to be able to stand in for each other."""


def changes(problem: Problem, z: Array, shift: Array, informed: bool) -> list[Change]:
    """Every free parameter at the solution z, the largest effect on the picture first.

    ``shift`` (n,) is by how much putting others back moved each; it counts as uncertainty. Without ``informed`` nothing
    is said of how surely values are known.
    """
    free = problem.model.free
    deviation, tied = np.full(len(z), np.inf), dict[int, str]()
    if informed and any(g.data for g in problem.goals):
        deviation, tied = _uncertainty(problem, z, shift)
    found = []
    distances = problem.distances(z)
    for i, f in enumerate(free):
        bound = bound_words(f, float(z[i]))
        change = Change(
            f.name,
            f.info.unit,
            f.start,
            f.value(float(z[i])),
            _status(bool(bound), bool(deviation[i] <= SURE), abs(z[i]) > 1e-9),
            float(f.uncertainty(float(z[i]), deviation[i])) if np.isfinite(deviation[i]) else None,
            bound,
            tied.get(i, ""),
        )
        found.append(change)
    moved = [i for i in range(len(z)) if abs(z[i]) > 1e-9]
    told = problem.each(lambda i: _with_effect(problem, distances, i, found[i]), moved)
    for i, change in zip(moved, told, strict=True):
        found[i] = change
    return sorted(found, key=lambda c: -c.effect)


def _uncertainty(problem: Problem, z: Array, shift: Array) -> tuple[Array, dict[int, str]]:
    """(n,) half widths in z, and for those loosely known the parameter that could stand in."""
    spread = information(problem, z).spread()
    sigma = np.sqrt(np.diag(spread))
    deviation = np.hypot(SIGMAS * sigma, shift)
    together = np.abs(spread / np.outer(sigma, sigma)) - 2.0 * np.eye(len(z))
    tied = {}
    for i in (int(k) for k in np.flatnonzero(deviation > SURE)):
        k = int(np.argmax(together[i]))
        if together[i, k] > TOGETHER:
            tied[i] = problem.model.free[k].name
    return deviation, tied


def _status(on_bound: bool, sure: bool, moved: bool) -> Status:
    if on_bound:
        return "bound"
    if sure:
        return "determined" if moved else "still"
    return "tied" if moved else "open"


def _with_effect(problem: Problem, distances: dict[str, float], i: int, change: Change) -> Change:
    """With what the picture and the goals lose when this parameter alone goes back to its start.

    The model must be at the solution, whose ``distances`` these are.
    """
    here, back = problem.model.seen(), problem.model.varied(i, 0.0)
    worse = {g.name: g.distance(back[g.part]) - distances[g.name] for g in problem.goals}
    why = max(worse, key=lambda n: worse[n])
    effect = float(np.sqrt(np.mean(np.sum((back.lab - here.lab) ** 2, axis=1))))
    if worse[why] <= 0:
        return replace(change, effect=effect)
    return replace(change, effect=effect, why=why, without=distances[why] + worse[why])


def bound_words(f: Free, z: float) -> str:
    """Which bound a moved parameter is on, with the hard bound where that lies further out; empty for none."""
    low, high = f.bounds_z()
    for at, value, hard, word in ((low, f.low, f.info.low, "lowest"), (high, f.high, f.info.high, "highest")):
        if abs(z - at) < 1e-6 and abs(z) > 1e-9:
            beyond = "" if abs(value - hard) < 1e-12 else f"; the hard bound is {hard:g}"
            return f"{word} of its usual range, {value:g}{beyond}" if beyond else f"{word} it can be, {value:g}"
    return ""
