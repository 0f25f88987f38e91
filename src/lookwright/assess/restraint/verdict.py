"""The verdict in three sentences that a filmmaker can act on: faces; skies, leaves and colours; greys and shadows."""

from __future__ import annotations

from collections.abc import Sequence

from .limits import BY_NAME
from .limits.measure import Group
from .report import Finding

HEADS: dict[Group, str] = {"faces": "Faces", "colours": "Skies, leaves, colours", "tones": "Greys and shadows"}
MOST_NAMED = 2
"""Troubles named after the worst one of a group; the table has them all."""


def verdict(findings: Sequence[Finding]) -> tuple[str, str, str]:
    """One sentence or two for each group, from findings in order of harm."""
    faces, colours, tones = (_of_group(group, findings) for group in HEADS)
    return faces, colours, tones


def _of_group(group: Group, findings: Sequence[Finding]) -> str:
    own = [f for f in findings if BY_NAME[f.measure].group == group]
    troubles = [f for f in own if f.state != "ok"]
    if not troubles:
        return f"{HEADS[group]}: fine. {_fine(group, own)}"
    # Of what is equally bad, first what one can see without knowing how it is measured.
    state = troubles[0].state
    worst = next((f for f in troubles if f.state == state and f.measure not in UNSPOKEN), troubles[0])
    word = "not usable as it is" if worst.state == "fail" else "usable, look twice"
    measure = BY_NAME[worst.measure]
    said = f"{_upper(measure.plainly)}{_figures(worst)}: {worst.found}"
    text = f"{HEADS[group]}: {word}. {_upper(worst.found) if worst.measure in UNSPOKEN else said}."
    # Only a trouble of the same weight is worth a word here.
    others = [BY_NAME[f.measure].plainly for f in troubles if f.state == state and f is not worst]
    others = [p for p in dict.fromkeys(others) if p != measure.plainly][:MOST_NAMED]
    if others:
        text += f" Also, {' and '.join(others)}."
    return f"{text} {worst.advice}"


UNSPOKEN = ("fold", "fold_strong", "hue_order", "hue_stretch", "grey_crossings", "banding_8", "banding_10")
"""Measures whose figures mean nothing to who has not read how they are taken; the table and --detail have them."""
UNITS = {
    "deg": "{} degrees",
    "% signal": "{} % of signal",
    "%": "{} %",
    "x": "{} times",
    "L*": "{} of 100 units of lightness",
    "dE2000": "{} just visible steps",
    "CIELAB a stop": "{} just visible steps a stop",
    "stops": "{} stops from grey",
    "10-bit codes": "{} codes of 10 bits",
}


def _figures(finding: Finding) -> str:
    """``, 17 degrees where 12 is the most``."""
    side = "least" if BY_NAME[finding.measure].side < 0 else "most"
    bound = f"{{}} is the {side}" if finding.state == "fail" else "{} calls for a look"
    value, limit = finding.value, finding.limit if finding.state == "fail" else finding.watch
    if _spoken(value) == _spoken(limit):  # said alike, they would not tell which is more
        return f", just past {bound.format(UNITS.get(finding.unit, '{}').format(_spoken(limit)))}"
    if finding.unit == "% away":  # so many percent more, or as much less as undoes it: a factor either way
        return f", by {_spoken(1 + value / 100)} times where {bound.format(_spoken(1 + limit / 100))}"
    unit = UNITS.get(finding.unit, f"{{}} {finding.unit}").format(_spoken(value))
    return f", {unit} where {bound.format(_spoken(limit))}"


def _spoken(value: float) -> str:
    """As many digits as one would say."""
    digits = 0 if abs(value) >= 10 else 1 if abs(value) >= 2 else 2
    return f"{round(value, digits):g}"


def _fine(group: Group, own: Sequence[Finding]) -> str:
    value = {f.measure: f.value for f in own}
    if group == "faces":
        if max(value["skin_hue"], value["skin_level"]) < LEAST:
            return "Skin from very dark to very light keeps its hue and its level."
        return (
            f"Skin from very dark to very light keeps its hue {_within(value['skin_hue'], 'degrees')} and its level "
            f"{_within(value['skin_level'], '% of signal')}."
        )
    if group == "colours":
        rest = "no colour jumps out, goes grey, goes dark or goes flat."
        if max(value["sky_hue"], value["leaves_hue"]) < LEAST:
            return f"Skies and leaves keep their hue; {rest}"
        return (
            f"Skies keep their hue {_within(value['sky_hue'], 'degrees')} and leaves "
            f"{_within(value['leaves_hue'], 'degrees')}; {rest}"
        )
    return "Greys stay grey, blacks and highlights keep their shape, and noise does not grow."


LEAST = 0.5
"""Degrees or percent of signal under which nothing has moved."""


def _within(value: float, unit: str) -> str:
    return "exactly" if value < LEAST else f"to {value:.1f} {unit}" if value < 2 else f"to {value:.0f} {unit}"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
