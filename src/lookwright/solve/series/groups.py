"""Shots in groups of one light, from what each pair of them says for and against it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

ROUNDS = 10
LEAST = 1e-9


def groups(count: int, against: Mapping[tuple[int, int], float]) -> list[int]:
    """(count,) the number of each shot's group: correlation clustering (Bansal, Blum, Chawla 2004), by joining the two
    groups that agree most as long as any agree, and then moving single shots to where they agree most.

    A pair that errs is outvoted by the others of its shots, where a path over it would let in all who stand behind it.

    Parameters
    ----------
    against
        By pair of shots, what speaks against one light; negative: for it. Pairs that say nothing are left out.
    """
    agree: list[dict[int, float]] = [{} for _ in range(count)]
    for (i, j), value in against.items():
        agree[i][j] = agree[j][i] = -value
    group = _joined(agree)
    for _ in range(ROUNDS):
        moved = False
        for i in range(count):
            total = defaultdict[int, float](float)
            for j, value in agree[i].items():
                total[group[j]] += value
            best = max(total, key=lambda k: (total[k], -k), default=group[i])
            if total[best] > total[group[i]] + LEAST:
                group[i], moved = best, True
        if not moved:
            break
    return group


def _joined(agree: list[dict[int, float]]) -> list[int]:
    between = {i: dict(row) for i, row in enumerate(agree)}
    members = {i: [i] for i in between}
    while True:
        every = ((v, a, b) for a, row in between.items() for b, v in row.items() if a < b)
        value, a, b = max(every, default=(0.0, 0, 0))
        if value <= LEAST:
            break
        for c, v in between.pop(b).items():
            del between[c][b]
            if c != a:
                between[a][c] = between[c][a] = between[a].get(c, 0.0) + v
        members[a] += members.pop(b)
    group = [0] * len(agree)
    for a, those in members.items():
        for i in those:
            group[i] = a
    return group
