"""What became of each shot of a series, seen across framings: matched with an error, lit otherwise and where, or not
known and why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from .change import Coherent, coherent
from .difference import Difference
from .features import Seen, Shared, shared
from .fit import Fitted, fit
from .groups import groups
from .joint import Edge, Level, joint

SURFACES = 60
"""Shared surfaces from which on a pair is listened to."""

GATE_STOPS, GATE_MIRED = 0.04, 3.0
"""Standard errors up to which a shot counts as determined: most of those are then within .05 stop, half of the smallest
step seen across a cut, and 5 mired, one just noticeable step. What is not determined is not corrected."""

EVEN, OF_NOISE = 0.04, 0.6
"""Stops in common between neighbours at which a pair says nothing of its light, and the share of its own noise that is
added to them in squares. Photographs that this was developed on have up to .033 in one light and from .062 upward in
another (19 of 20 pairs each); renders, seven times as noisy, .03 and .14 in the middle."""

MOST = 1.5
"""Doublings of that to which a pair speaks for or against one light: no pair outvotes two."""

SAME_SPREAD = 0.13
"""Stops of robust spread above which a pair does not speak for one light: another set could leave as much. With .085
noisy renders have 12 instead of 18 shots matched, all 12 instead of 16 of them within .05 stop and 5 mired."""

SURE = 0.5
"""What all pairs of a shot with the anchor's light must say together, for or against, before it is told."""

TOO_LITTLE = "it shares too little with shots that are known"
UNTOLD = "what it shares with others does not tell another light from another lens"

BESIDE = 15
"""Of more than MANY shots, each is compared with so many that come before it, and with the anchor."""
MANY = 60


@dataclass(frozen=True)
class PairSeen:
    """Two shots compared."""

    first: int
    second: int
    both: Shared
    fitted: Fitted
    coherent: Coherent

    @property
    def against(self) -> float:
        """What speaks against one light, in doublings of what says nothing, -MOST..MOST; negative: for it."""
        level = np.hypot(EVEN, OF_NOISE * self.coherent.noise)
        value = float(np.clip(np.log2(max(self.coherent.stops, 1e-4) / level), -MOST, MOST))
        return max(value, 0.0) if self.fitted.spread > SAME_SPREAD else value

    def other(self, shot: int) -> int:
        """The one that ``shot`` was compared with."""
        return self.first if self.second == shot else self.second

    @property
    def edge(self) -> Edge:
        """For the joint solution: what neighbours have in common counts as an error of its own."""
        return Edge(self.first, self.second, self.fitted, 1.0 / (1.0 + (self.coherent.stops / 0.03) ** 2))


@dataclass(frozen=True)
class Answer:
    """What is known of one shot."""

    state: str
    """``matched``, ``changed`` or ``unknown``."""
    difference: Difference = field(default_factory=Difference)
    stops_error: float = 0.0
    mired_error: float = 0.0
    why: str = ""
    """For a change, what and where; for what is not known, why."""
    compared: tuple[int, ...] = ()
    """Numbers of the shots that it was compared with."""


def compare(first: Seen, second: Seen, numbers: tuple[int, int] = (0, 1)) -> PairSeen | None:
    """Two frames; None when they share too little."""
    both = shared(first, second)
    if both is None or len(both.first) < SURFACES:
        return None
    fitted = fit(both)
    return PairSeen(*numbers, both, fitted, coherent(both, fitted))


def candidates(count: int, anchor: int, open_: Sequence[int] | None = None) -> list[tuple[int, int]]:
    """The pairs that are compared, by the later of the two: those with a shot that is ``open_`` (all, if None), and
    those with the anchor."""
    wanted = set(range(count)) if open_ is None else set(open_)
    every = [(i, j) for j in range(count) for i in range(j) if i in wanted or j in wanted or anchor in (i, j)]
    if count <= MANY:
        return every
    return [(i, j) for i, j in every if j - i <= BESIDE or anchor in (i, j)]


def answers(
    count: int,
    seen: Callable[[int], Seen | None],
    anchor: int,
    open_: Sequence[int] | None = None,
    each: Callable[[int], None] = lambda done: None,
) -> list[Answer]:
    """Every shot against the anchor, over all pairs that share enough.

    Parameters
    ----------
    seen
        Gives a shot made ready, or None for one that cannot be read. Of more than MANY shots, BESIDE and the anchor are
        held in memory.
    open_
        The shots whose answer is wanted; None: all.
    each
        Is told of every pair that was compared.
    """
    pairs, held = [], dict[int, Seen | None]()
    for i, j in candidates(count, anchor, open_):
        for n in (i, j):
            if n not in held:
                held[n] = seen(n)
        if count > MANY:
            for n in [n for n in held if n < j - BESIDE and n not in (anchor, i)]:
                del held[n]
        first, second = held[i], held[j]
        found = compare(first, second, (i, j)) if first is not None and second is not None else None
        if found is not None:
            pairs.append(found)
        each(1)
    return settle(count, pairs, anchor)


def settle(count: int, pairs: Sequence[PairSeen], anchor: int) -> list[Answer]:
    """The answers from the pairs: which shots are lit as the anchor is, and what those differ by."""
    group = groups(count, {(p.first, p.second): p.against for p in pairs})
    lit = {n for n in range(count) if group[n] == group[anchor]}
    levels = joint(count, [p.edge for p in pairs if {p.first, p.second} <= lit and _speaks(p)], anchor)
    return [_answer(n, pairs, levels[n], lit, anchor) for n in range(count)]


def _speaks(pair: PairSeen) -> bool:
    return pair.fitted.spread <= SAME_SPREAD


def _determined(level: Level) -> bool:
    return level.stops_error <= GATE_STOPS and level.mired_error <= GATE_MIRED


def _answer(node: int, pairs: Sequence[PairSeen], level: Level | None, lit: set[int], anchor: int) -> Answer:
    mine = [p for p in pairs if node in (p.first, p.second) and p.other(node) in lit]
    with_ = tuple(sorted({p.other(node) for p in mine}))
    if node == anchor:
        return Answer("matched", compared=with_)
    against = sum(p.against for p in mine)
    if node not in lit and against >= SURE:
        strongest = max(mine, key=lambda p: p.against * np.sqrt(len(p.both.first)))
        return Answer("changed", why=_place(strongest), compared=with_)
    if node not in lit or level is None or against > -SURE:
        return Answer("unknown", why=TOO_LITTLE if not mine else UNTOLD, compared=with_)
    if not _determined(level):
        why = f"what it shares leaves it uncertain by {level.stops_error:.2f} stop and {level.mired_error:.0f} mired"
        return Answer("unknown", why=why, compared=with_)
    return Answer("matched", level.difference, level.stops_error, level.mired_error, "", with_)


def _place(pair: PairSeen) -> str:
    """What changed and where. The key is the same where most of what both show agrees."""
    cells = pair.coherent
    part = float(np.nanmean(np.abs(cells.cells) > 0.6 * cells.stops))
    what = "same key, changed here" if part < 0.5 else "the light is another"
    return f"{what}: {cells.stops:.2f} stop {cells.place(0.6 * cells.stops)}"
