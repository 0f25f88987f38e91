"""A slider on its way: what the page is told beside the lattice, and how both travel in one answer."""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.luma import luma_weights, nominal
from lookwright.look.recipe.model import Look

from .bake_queue import Baked, Places, Seen
from .mark_table import MarkTable
from .pictures import Pictures, Region
from .shown import on_screen

SAMPLES = 128
"""Pixels of a mark that are measured while a slider moves: exactly, and all it takes is their share of a bake."""


@dataclass(frozen=True)
class Probes:
    """Pixels of marks that go the exact way beside a lattice."""

    names: tuple[str, ...]
    ends: tuple[int, ...]
    colours: Array
    """(n, 3) source signal, those of one mark after those of another."""

    @classmethod
    def of(cls, marks: MarkTable, still: int | None) -> Probes:
        """Of the marks of a still; none of None."""
        samples = marks.samples(still, SAMPLES) if still is not None else []
        boxes = [b for _, b in samples]
        ends = tuple(int(n) for n in np.cumsum([len(b) for b in boxes]))
        return cls(tuple(n for n, _ in samples), ends, np.concatenate(boxes) if boxes else np.zeros((0, 3)))

    def levels(self, graded: Array, look: Look) -> list[dict[str, Any]]:
        """The level of each mark, of its pixels through a look as the page shows it: percentiles as
        :func:`~lookwright.assess.measure.levels.level` has them, and nothing else that it measures."""
        output = on_screen(look)[1].signal
        weights, _ = luma_weights(output)
        percent = 100.0 * nominal(graded, output)
        every = np.column_stack([percent @ weights, percent])
        parts = [every[first:last] for first, last in zip((0, *self.ends), self.ends, strict=False)]
        cut: dict[int, Array] = {}
        for size in {len(p) for p in parts}:  # those of one size at once: most have as many as are taken
            same = [i for i, p in enumerate(parts) if len(p) == size]
            three = np.percentile([parts[i] for i in same], [5.0, 50.0, 95.0], axis=1)
            cut |= zip(same, three.swapaxes(0, 1), strict=True)
        found = []
        for i, name in enumerate(self.names):
            (low, *_), (middle, *rgb), (high, *_) = cut[i].tolist()
            found.append({"name": name, "level": middle, "low": low, "high": high, "rgb": rgb})
        return found


def seen_by(pictures: Pictures, views: Sequence[tuple[int, Region]], probes: Probes, key: object) -> Seen:
    """What several views read of lattices, and the probes beside them; ``key`` tells one set of probes from another."""
    several = [pictures.seen(still, region) for still, region in views]

    def places(size: int) -> Places:
        found = [s.places(size) for s in several]
        return found[0] if len(found) == 1 else np.unique(np.concatenate(found))

    return Seen((tuple(s.key for s in several), key), places, probes.colours)


def packed(baked: Baked, told: dict[str, Any]) -> bytes:
    """One answer: the length of a JSON text (4 bytes), the text, then places and codes of the lattice."""
    about = {"size": baked.size, "points": len(baked.codes), "ms": round(baked.seconds * 1000.0, 2), **told}
    text = json.dumps(about).encode()
    places = b"" if baked.places is None else baked.places.astype("<u4").tobytes()
    return struct.pack("<I", len(text)) + text + places + baked.codes.astype("<u2").tobytes()
