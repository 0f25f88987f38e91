"""What tuning did, in a few short lines for a terminal; everything else is in the paragraph and the data."""

from __future__ import annotations

import textwrap

from .light import light_words
from .outcome import Change, Outcome
from .words import amount, goal_line, held_words, restraint_sentences

LINES = 9
"""Most lines; the command adds one, where it wrote."""
WIDTH = 118
"""Most characters of a line (our choice)."""
MOVES = 4
"""Moves that are named."""


def in_lines(outcome: Outcome) -> list[str]:
    """At most :data:`LINES` lines of at most :data:`WIDTH` characters: how near, which targets, what moved, restraint.

    What is left out for brevity is counted, never silent.
    """
    before = [_listed("Distances", [goal_line(n, a, b) for n, (a, b) in outcome.goals.items()])]
    before += _targets(outcome)
    before += [shortened(c) for c in outcome.conflicts[:1]]
    moved = [c for c in outcome.changes if c.after != c.before]
    bound = [f"{c.name} at the {c.bound}" for c in outcome.changes if c.bound]
    after = [_listed("On a bound", bound)] if bound else []
    after += _held(outcome)
    after += _rest(max(0, len(moved) - MOVES), sum(c.status == "open" for c in outcome.changes))
    end = ["Stopped before the end: this is the best found so far."] if outcome.stopped else []
    after.append(shortened(" ".join([*end, *restraint_sentences(outcome)])))
    return [*before, *_moves(moved, LINES - len(before) - len(after)), *after]


def _held(outcome: Outcome) -> list[str]:
    """All that was held, with the reasons where a line has room for them."""
    if not outcome.held:
        return []
    head = "Held (--free NAME releases)"
    told = f"{head}: {'; '.join(held_words(outcome))}."
    return [told if len(told) <= WIDTH else _listed(head, list(outcome.held), ", ")]


def _targets(outcome: Outcome) -> list[str]:
    if not outcome.targets:
        return []
    met = sum(t.met for t in outcome.targets)
    head = f"Levels met: {met} of {len(outcome.targets)}"
    off = [f"{t.label} at {t.after:.1f} instead of {t.wanted_words}" for t in outcome.targets if not t.met]
    if not off:
        return [f"{head}."]
    return [_listed(f"{head}. Not met", off), _listed("To be lit rather than graded", light_words(outcome.targets))]


def _moves(moved: list[Change], lines: int) -> list[str]:
    """The moves with the most effect on the picture, two on a line; all on one where there is but one."""
    if not moved:
        return ["Nothing moved: the look was already as near as the bounds and restraint allow."]
    named = [f"{c.name} went {amount(c)}" for c in moved[:MOVES]]
    if lines < 2:
        return [_listed("Moved", named)]
    return [shortened("; ".join(named[i : i + 2]) + ".") for i in range(0, len(named), 2)]


def _rest(more: int, left: int) -> list[str]:
    """How many moves and open parameters are not named."""
    said = [f"{more} more moved with less effect"] if more else []
    if left:
        which = "stay as set, for the data does not say where they belong"
        said.append(
            f"{left} {which if left > 1 else which.replace('stay', 'stays').replace('they belong', 'it belongs')}"
        )
    return [f"{'; '.join(said)} (--json names all).".capitalize()] if said else []


def _listed(head: str, items: list[str], between: str = "; ") -> str:
    """``head: one; two; 3 more.``, as many as a line holds and at least one."""
    for count in range(len(items), 0, -1):
        rest = [f"{len(items) - count} more"] if count < len(items) else []
        line = f"{head}: {between.join([*items[:count], *rest])}."
        if len(line) <= WIDTH:
            return line
    return shortened(line)


def shortened(line: str) -> str:
    """The line, cut between words where it is too long."""
    return textwrap.shorten(line, WIDTH, placeholder=" ...")
