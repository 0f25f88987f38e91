"""The only place where the bench meets the tune room: goals from the page, a new text and what changed in words."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from ..look.model import Look
from ..look.read import parse_look
from ..look.write import with_changes
from ..restraint.limits import BY_NAME
from ..stills import Mark
from ..tune.gather import Wishes
from ..tune.run import Outcome, tune
from .values import Path as Place
from .values import numbers, text_change


def run(asked: dict[str, Any], say: Any) -> dict[str, Any]:
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
    last = [0.0]

    def told(what: str, cost: float) -> None:
        if time.monotonic() - last[0] > 0.2:
            last[0] = time.monotonic()
            say({"progress": what, "cost": cost})

    outcome = tune(look, wishes, told=told)
    text, words = rewritten(asked["text"], look, outcome.look)
    return {"revision": asked["revision"], "text": text, "changes": words, "outcome": sentences(outcome)}


def rewritten(text: str, before: Look, after: Look) -> tuple[str, list[str]]:
    """The recipe's text with every number that moved, and the moves in words."""
    changes: dict[Place, Any] = {}
    words = []
    for i, (old, new) in enumerate(zip(before.steps, after.steps, strict=True)):
        for a, b in zip(numbers(old), numbers(new), strict=True):
            if a.value != b.value:
                place, value = text_change(new, i, b.path, b.value)
                changes[place] = value
                unit = f" {b.info.unit}" if b.info.unit else ""
                words.append(f"{new.kind} {b.lock_name}: {a.value:.4g} to {b.value:.4g}{unit}")
    return with_changes(text, changes), words


def sentences(outcome: Outcome) -> list[str]:
    """What came of the goals, one line each."""
    said = []
    for name, (before, after) in outcome.goals.items():
        said.append(f"{name}: {before:.2f} to {after:.2f} ({outcome.goal_words[name]})")
    for t in outcome.targets:
        met = "met" if t.met else "not met"
        said.append(f"{t.label}: wanted {t.wanted:.0f} %, was {t.before:.0f}, is {t.after:.0f}: {met}")
    said += outcome.conflicts
    failing = [BY_NAME[n].title for n, h in outcome.harm_after.items() if h > 1.0]
    said.append("Restraint fails on " + ", ".join(failing) + "." if failing else "No measure of restraint fails.")
    return [*said, *outcome.notes]
