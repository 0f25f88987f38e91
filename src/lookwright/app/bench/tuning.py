"""The only place where the bench meets the job of tuning: goals from the page, a new text and what changed in words."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from lookwright.jobs.progress import Progress
from lookwright.jobs.tune import tune_text
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.read import parse_look
from lookwright.look.steps.numbers import numbers
from lookwright.pictures.stills import Mark
from lookwright.solve.tune.gather import Wishes
from lookwright.solve.tune.run import Outcome
from lookwright.solve.tune.words import (
    UNITS,
    figure,
    held_words,
    light_sentences,
    restraint_sentences,
    target_sentences,
)

DISTANCES = {"reference": "Distance from the reference", "separation": "Short of the separation wanted"}
"""Goals that are no levels, as the page names what is left of them."""


def run(asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Tune ``asked["text"]`` toward the goals of ``asked``; runs in the child process."""
    look = parse_look(asked["text"], "look").with_folder(Path(asked["folder"]))
    goals = asked["goals"]
    keep_levels = "levels" in goals
    marks = {
        name: [Mark(m[0], tuple(m[1]), m[2] if keep_levels else None, m[3]) for m in several]
        for name, several in asked["marks"].items()
    }
    wishes = Wishes(
        stills=tuple(Path(p) for p in asked["stills"]),
        references=tuple(Path(p) for p in asked["references"]) if "reference" in goals else (),
        reference_encoding=asked.get("reference_encoding", ""),
        marks=marks,
        separation=goals.get("separation"),
    )
    tuned = tune_text(look, asked["text"], wishes, progress=progress)
    outcome = tuned.outcome
    moves = moved(look, outcome.look)
    return {
        "changes": moves,
        "targets": levels(outcome),
        "outcome": sentences(outcome),
        "remarks": remarks(outcome),
    }


def moved(before: Look, after: Look) -> list[dict[str, Any]]:
    """Every number that moved, as the page lists it."""
    found = []
    for i, (old, new) in enumerate(zip(before.steps, after.steps, strict=True)):
        for a, b in zip(numbers(old), numbers(new), strict=True):
            if a.value != b.value:
                name = f"{new.kind} {b.lock_name.replace('_', ' ')}"
                where = {"index": i, "path": list(b.path)}
                found.append({"name": name, "before": a.value, "after": b.value, "unit": b.info.unit, **where})
    return found


def levels(outcome: Outcome) -> list[dict[str, Any]]:
    """Level targets as the page lists them, in words."""
    return [
        {
            "name": t.label,
            "before": figure(t.before),
            "after": figure(t.after),
            "wanted": t.wanted_words,
            "met": t.met,
        }
        for t in outcome.targets
    ]


def sentences(outcome: Outcome) -> list[str]:
    """What came of it as a whole, one line each."""
    said = target_sentences(outcome)[:1]  # how many levels are met; which are not, the table shows
    for name in DISTANCES:
        if name in outcome.goals:
            before, after = (f"{figure(v)}{UNITS.get(name, '')}" for v in outcome.goals[name])
            said.append(f"{DISTANCES[name]}: {before} now, {after} with these numbers.")
    return [*said, *restraint_sentences(outcome)]


def remarks(outcome: Outcome) -> list[str]:
    """What to know beside it."""
    said = [*light_sentences(outcome), *outcome.conflicts]
    bound = [c.name for c in outcome.changes if c.bound]
    if bound:
        said.append("At an end of their range: " + _names(bound))
    left = [c.name for c in outcome.changes if c.status == "open"]
    if left:
        said.append("The pictures do not say where these belong, so they stay: " + _names(left))
    if outcome.held:
        said.append("Held: " + "; ".join(held_words(outcome)) + ".")
    return said + outcome.notes


def _names(names: list[str]) -> str:
    return ", ".join(n.replace(".", " ").replace("_", " ") for n in names) + "."
