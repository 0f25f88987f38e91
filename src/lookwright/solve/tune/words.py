"""What tuning did, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lookwright.assess.restraint.limits import BY_NAME

from .goals import LEVEL_TOLERANCE
from .light import light_words
from .outcome import Change, Outcome

UNITS = {"levels": " %", "separation": " degrees"}
MOST = 6
"""Moves named one by one; the rest are counted."""


def figure(value: float) -> str:
    """Three significant digits without an exponent."""
    if value == 0:
        return "0"
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}" if abs(value) >= 1e-3 else f"{value:.1g}"


def goal_line(name: str, before: float, after: float) -> str:
    """``reference 6.1 -> 2.4``."""
    unit = UNITS.get(name, "")
    return f"{name} {figure(before)}{unit} -> {figure(after)}{unit}"


def _plus_minus(c: Change) -> str:
    if c.status in ("determined", "still") and c.uncertainty is not None:
        return f" ± {figure(c.uncertainty)}"
    return ""


def amount(c: Change) -> str:
    """``from 0 to 0.5 ± 0.02 stops``."""
    unit = f" {c.unit}" if c.unit else ""
    return f"from {figure(c.before)} to {figure(c.after)}{_plus_minus(c)}{unit}"


def in_words(outcome: Outcome) -> str:
    """One paragraph: how near, what moved and why, what is on a bound, what the data does not say, and restraint."""
    goals = "; ".join(goal_line(n, a, b) for n, (a, b) in outcome.goals.items())
    sentences = [f"Distances: {goals}."]
    moved = [c for c in outcome.changes if c.after != c.before]
    if not moved:
        sentences.append("Nothing moved: the look was already as near as the bounds and restraint allow.")
    for c in moved[:MOST]:
        reason = ""
        if c.why and c.without > outcome.goals[c.why][1] * 1.02 + 0.01:
            now = figure(outcome.goals[c.why][1])
            reason = f": without it the distance to the {c.why} would be {figure(c.without)} instead of {now}"
        tied = f" (or {c.tied_to} could have moved instead)" if c.status == "tied" and c.tied_to else ""
        sentences.append(f"{c.name} went {amount(c)}{tied}{reason}.")
    if len(moved) > MOST:
        sentences.append(f"{len(moved) - MOST} more moved with less effect on the picture.")
    bound = [c for c in outcome.changes if c.bound]
    if bound:
        sentences.append("On a bound: " + "; ".join(f"{c.name} is at the {c.bound}" for c in bound) + ".")
    left = [c.name for c in outcome.changes if c.status == "open"]
    if left:
        sentences.append(f"The data does not say where these belong, so they stay where they were: {', '.join(left)}.")
    sentences += held_sentences(outcome)
    sentences += target_sentences(outcome)
    sentences += restraint_sentences(outcome)
    if outcome.stopped:
        sentences.append("Stopped before the end: this is the best found so far.")
    return " ".join(sentences)


def held_words(outcome: Outcome) -> list[str]:
    """``print.grey_density for exposure.stops``: those that were held, for each reason."""
    reasons = dict.fromkeys(outcome.held.values())
    return [f"{', '.join(n for n, w in outcome.held.items() if w == why)} {why}" for why in reasons]


def held_sentences(outcome: Outcome) -> list[str]:
    """What was held, and how it is released."""
    held = held_words(outcome)
    return [f"Held (--free NAME releases): {'; '.join(held)}."] if held else []


def target_sentences(outcome: Outcome) -> list[str]:
    """How many targets are met, and which are not and why."""
    if not outcome.targets:
        return []
    met = sum(t.met for t in outcome.targets)
    text = [f"{met} of {len(outcome.targets)} level targets are met within {LEVEL_TOLERANCE:g} % of signal."]
    off = [f"{t.label} at {t.after:.1f} instead of {t.wanted_words}" for t in outcome.targets if not t.met]
    if off:
        text.append("Not met: " + "; ".join(off) + ".")
    return text + light_sentences(outcome) + outcome.conflicts


def light_sentences(outcome: Outcome) -> list[str]:
    """What must be lit rather than graded."""
    lacking = light_words(outcome.targets)
    return [f"To be lit rather than graded: {'; '.join(lacking)}."] if lacking else []


def restraint_sentences(outcome: Outcome) -> list[str]:
    """What the check will say."""
    failing = [n for n, h in outcome.harm_after.items() if h > 1.0]
    if failing:
        old = [n for n in failing if outcome.harm_before.get(n, 0.0) > 1.0]
        names = ", ".join(BY_NAME[n].title for n in failing)
        before = " (already before tuning)" if len(old) == len(failing) else ""
        return [f"'check' fails{before}: {names}."]
    close = max(outcome.harm_after, key=lambda n: outcome.harm_after[n])
    share = outcome.harm_after[close]
    if share < 0.5:
        return ["Restraint: 'check' finds nothing to watch."]
    return [f"Restraint: 'check' passes; nearest its limit is {BY_NAME[close].title}, {100 * share:.0f} % of the way."]


def note(outcome: Outcome, date: str, goal: Sequence[str]) -> list[str]:
    """Remarks for the recipe: when, to what, how near, and what to know about it."""
    lines = [f"{date}: tuned to {'; '.join(goal)}."]
    lines.append("distances: " + ", ".join(goal_line(n, a, b) for n, (a, b) in outcome.goals.items()))
    for t in outcome.targets:
        lines.append(f"level of {t.label}: {t.after:.1f}, wanted {t.wanted_words}" + ("" if t.met else ", NOT met"))
    lines += [line.rstrip(".") for line in light_sentences(outcome)]
    bound = [f"{c.name} ({c.bound})" for c in outcome.changes if c.bound]
    if bound:
        lines.append("on a bound: " + "; ".join(bound))
    if outcome.held:
        lines.append("held: " + "; ".join(held_words(outcome)))
    if outcome.stopped:
        lines.append("stopped before the end; the best found so far")
    return lines


def as_data(outcome: Outcome) -> dict[str, Any]:
    """Everything, for a program."""
    return {
        "goals": {
            n: {"before": a, "after": b, "measures": outcome.goal_words[n]} for n, (a, b) in outcome.goals.items()
        },
        "parameters": [
            {
                "name": c.name,
                "unit": c.unit,
                "before": c.before,
                "after": c.after,
                "status": c.status,
                "uncertainty": c.uncertainty,
                "bound": c.bound,
                "tied_to": c.tied_to,
                "effect": c.effect,
                "why": c.why,
            }
            for c in outcome.changes
        ],
        "targets": [
            {
                "mark": t.label,
                "wanted": t.wanted,
                "before": t.before,
                "after": t.after,
                "most": t.most,
                "met": t.met,
                "light_stops": t.light,
            }
            for t in outcome.targets
        ],
        "held": [{"name": name, "why": why} for name, why in outcome.held.items()],
        "conflicts": outcome.conflicts,
        "restraint": {
            "passes": outcome.passes,
            "harm": {n: {"before": outcome.harm_before.get(n), "after": h} for n, h in outcome.harm_after.items()},
        },
        "stopped": outcome.stopped,
        "evaluations": outcome.evaluations,
        "starts": outcome.starts,
        "seed": outcome.seed,
    }
