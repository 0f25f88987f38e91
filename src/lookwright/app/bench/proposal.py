"""What tuning found, before it is taken: number by number, upon the recipe as it stands by then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lookwright.look.recipe.model import Look
from lookwright.look.steps.numbers import numbers

from .session import Change, Session


@dataclass(frozen=True)
class Move:
    """A number that tuning would have otherwise."""

    change: Change
    before: float
    name: str


class Proposal:
    """The numbers of one tuning, and which of them are wanted.

    Parameters
    ----------
    session
        The recipe; it may be edited in the meantime.
    moves
        In the order in which the page lists them.
    """

    def __init__(self, session: Session, moves: Sequence[Move]) -> None:
        self._session = session
        self.moves = tuple(moves)
        self.wanted: tuple[int, ...] = tuple(range(len(self.moves)))

    @classmethod
    def of(cls, session: Session, ids: Sequence[int], told: Sequence[dict[str, Any]]) -> Proposal:
        """Of what the tuner told: each change with the place of its step, whose ids were taken when it began."""
        moves = [
            Move(Change(ids[c["index"]], tuple(c["path"]), float(c["after"])), float(c["before"]), c["name"])
            for c in told
        ]
        return cls(session, moves)

    def standing(self) -> list[str]:
        """For each move what became of its number since: "" as it was, ``edited``, or ``gone`` with its step."""
        look, moment, *_ = self._session.snapshot()
        now = {(i, n.path): n.value for i, step in zip(moment.ids, look.steps, strict=True) for n in numbers(step)}
        found = []
        for move in self.moves:
            value = now.get((move.change.step or 0, move.change.path))
            found.append("gone" if value is None else "" if value == move.before else "edited")
        return found

    def changes(self) -> list[Change]:
        """The wanted ones whose step is still there."""
        standing = self.standing()
        return [m.change for i, m in enumerate(self.moves) if i in self.wanted and standing[i] != "gone"]

    def look(self) -> Look:
        """The recipe as it stands with the wanted numbers in it."""
        return self._session.trial(self.changes())

    def take(self) -> None:
        """Put them into the recipe, as one edit."""
        changes = self.changes()
        if changes:
            whole = len(changes) == len(self.moves)
            self._session.set(changes, "tuned" if whole else f"tuned, {len(changes)} of {len(self.moves)} numbers")
