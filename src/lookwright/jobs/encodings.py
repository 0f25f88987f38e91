"""The signal encodings as a table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.colour.spaces.encodings import CURATED, encoding

REFLECTANCES = (0.0, 0.18, 0.9)
"""Of black, of a grey card and of a white card; for display encodings shares of reference white."""


@dataclass(frozen=True)
class EncodingRow:
    """One encoding."""

    name: str
    carries: str
    primaries: tuple[str, ...]
    """The usual ones first, where there are such."""
    usual: bool
    """Whether the first are the usual ones; else they must be named."""
    codes: tuple[float, ...]
    """Full range code values 0..1 of :data:`REFLECTANCES`."""
    document: str


def encodings(name: str | None = None) -> list[EncodingRow]:
    """All encodings that are listed, or the one of that name; raises :class:`NameLookupError` for an unknown one."""
    return [
        EncodingRow(
            e.name,
            f"{e.kind} light",
            tuple(p for p in (e.primaries, *e.gamuts) if p),
            bool(e.primaries),
            tuple(float(e.encode(np.full(3, x))[0]) for x in REFLECTANCES),
            e.source,
        )
        for e in ([encoding(name)] if name else CURATED.values())
    ]
