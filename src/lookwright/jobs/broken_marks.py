"""The zones of broken-down frames as a marks file."""

from __future__ import annotations

from collections.abc import Iterable

import tomlkit

from lookwright.assess.breakdown.breakdown import Breakdown

UNNAMED = 8
"""So many of the largest zones without a role are written too; the smaller are not worth a look at a meter."""

HEAD = """Zones found by lookwright breakdown: box = [x, y, width, height] as fractions of the frame; level = percent of
the signal that the frame shows there. They are targets for 'lookwright tune' and for the set. Roles were found, not
drawn: look at each box before you trust it."""


def marks_text(frames: Iterable[tuple[str, Breakdown]]) -> str:
    """The text of a marks file, one table for each frame."""
    document = tomlkit.document()
    for line in HEAD.splitlines():
        document.add(tomlkit.comment(line))
    for stem, taken in frames:
        table = tomlkit.table(is_super_table=True)
        for name, box, level, role in marked(taken):
            mark = tomlkit.table()
            mark["box"] = [round(v, 4) for v in box]
            if role:
                mark["role"] = role
            if level is not None:
                mark["level"] = round(level, 1)
            table[name] = mark
        document[stem] = table
    return tomlkit.dumps(document)


def marked(
    taken: Breakdown,
) -> list[tuple[str, tuple[float, float, float, float], float | None, str | None]]:
    """Name, box, level and role of each mark: named zones, places on faces, and the largest others."""
    out: list[tuple[str, tuple[float, float, float, float], float | None, str | None]] = []
    for zone in [*taken.named(), *taken.unnamed()[:UNNAMED]]:
        out.append((zone.name, zone.box, min(max(zone.level, 0.0), 100.0), zone.role))
    for i, sides in enumerate(taken.sides, start=1):
        prefix = "face" if len(taken.sides) == 1 else f"face {i}"
        out += [(f"{prefix}, {name}", box, None, "skin") for name, box in sides.places]
    return out
