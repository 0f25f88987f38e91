"""Moving a look toward a reference, pairs or levels: the new look as text, and what was done."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from lookwright.errors import MarksError, WrongUse
from lookwright.files import check_target, write_text
from lookwright.look.recipe.model import Look
from lookwright.outputs import Output
from lookwright.pictures.stills import Mark, find_stills, parse_mark, read_marks, read_once
from lookwright.present.sheets.tune_sheet import write_tune_sheet
from lookwright.solve.tune.brief import in_lines
from lookwright.solve.tune.free import free_parameters
from lookwright.solve.tune.gather import Wishes
from lookwright.solve.tune.recipe import tuned_text
from lookwright.solve.tune.run import Outcome
from lookwright.solve.tune.run import tune as solve
from lookwright.solve.tune.words import as_data, in_words, note

from .doubts import Doubts
from .found import with_found
from .given import MARKS, SignalName
from .job import job
from .looks import load_look
from .progress import SILENT, Progress
from .stills import Marks


@dataclass(frozen=True)
class Parameters:
    """Which of a look's parameters may move."""

    lock: Sequence[str] = ()
    """Names, or whole steps, that must not."""
    free: Sequence[str] = ()
    """Names that may although the recipe or their declaration locks them."""
    wide: bool = False
    """Allow each all of its hard bounds, not only its usual range."""


EVERY = Parameters()
"""All that the recipe and their declarations leave free."""


@dataclass(frozen=True)
class Goals:
    """What to tune to; the fields are those of the options of ``lookwright tune``, and may be combined."""

    stills: Sequence[Path] = ()
    references: Sequence[Path] = ()
    """Finished frames of other content."""
    pairs: Sequence[tuple[Path, Path]] = ()
    """One frame ungraded and graded."""
    reference_encoding: str = ""
    """Of references and graded frames; empty: the look's output."""
    marks: Path | None = None
    """None: ``marks.toml`` beside each still, where there is one. Its levels are goals only where no other is asked."""
    own_marks: Sequence[str] = ()
    """``NAME=X,Y,W,H``: a box on every still."""
    levels: Mapping[str, float] = field(default_factory=dict)
    """Percent of signal wanted, by the name of a mark."""
    separation: float | None = None
    """Least angle between warm and cool, degrees."""
    weights: Mapping[str, float] = field(default_factory=dict)
    seed: int = 0
    samples: int = 1200
    """Pixels tuned on, over all stills."""

    def wishes(self, pictures: bool) -> Wishes:
        """The same with its files looked up and its marks read; ``pictures`` keeps small copies for a sheet."""
        if self.separation is not None and math.isnan(self.separation):
            raise WrongUse("--separation: not a number of degrees")
        stills = tuple(find_stills(self.stills)) if self.stills else ()
        return Wishes(
            stills=stills,
            pairs=tuple(self.pairs),
            references=tuple(self.references),
            reference_encoding=self.reference_encoding,
            marks=read_marks(self.marks) if self.marks is not None else self._beside(stills),
            own_marks=tuple(parse_mark(t) for t in self.own_marks),
            levels=self.levels,
            separation=self.separation,
            weights=self.weights,
            seed=self.seed,
            samples=self.samples,
            pictures=pictures,
        )

    def _beside(self, stills: Sequence[Path]) -> dict[str, list[Mark]]:
        """Marks of the files beside stills and references, by stem.

        Nobody named them: where another goal is asked for their levels are none, and parts are compared with those of
        the references only where both have one of that role.
        """
        known, table = Marks(None), dict[str, list[Mark]]()
        for path in stills:
            marks = known.of(path)
            if marks or path.stem in known.table(path):  # a still whose marks were all taken out has none
                if table.get(path.stem, marks) != marks:
                    raise MarksError(
                        f"{MARKS} beside {path}",
                        f"another still is called {path.stem!r}, with other marks",
                        hint="name one marks file with --marks",
                    )
                table[path.stem] = marks
        if self.levels or self.references or self.pairs or self.separation is not None:
            table = {name: [replace(m, level=None) for m in marks] for name, marks in table.items()}
        theirs = {p.stem: known.of(p) for p in self.references if p.stem not in table}
        common = _roles(theirs.values()) & _roles(table.values())
        table |= theirs if common else {name: [] for name in theirs}
        return table


def _roles(marks: Iterable[Sequence[Mark]]) -> set[str]:
    return {m.role for ms in marks for m in ms if m.role}


@dataclass(frozen=True)
class Tuned:
    """A tuned look."""

    text: str
    """Its recipe, with a note of what was done."""
    outcome: Outcome
    doubts: dict[str, list[str]] = field(default_factory=dict)
    """By name of a still: signs that it is not what the look is fed."""

    @property
    def words(self) -> str:
        """One paragraph: how near, what moved and why, what is on a bound, and restraint."""
        return in_words(self.outcome)

    @property
    def lines(self) -> list[str]:
        """The same in a few short lines; what is left out is counted."""
        return in_lines(self.outcome)

    def to_dict(self) -> dict[str, Any]:
        """Everything but the recipe, ready for JSON."""
        return {**as_data(self.outcome), "words": self.words, "doubts": self.doubts}


@job(out=lambda given: [Output(given["out"], "look", instead_of=given["look"])], sheet="drawing")
def tune(
    look: Path,
    out: Path,
    goals: Goals,
    *,
    parameters: Parameters = EVERY,
    date: str | None = None,
    sheet: Path | None = None,
    source: SignalName | None = None,
    progress: Progress = SILENT,
) -> Tuned:
    """Tune a look and write it to ``out``, which may be ``look`` itself.

    Parameters
    ----------
    date
        In the note that the new look gets; None: today's.
    sheet
        Also draw before, after and reference there (.png).
    source
        In place of the look's own; the new look has it.

    Returns
    -------
    Tuned
        Its outcome says whether levels are met, whether ``check`` passes, and whether Ctrl-C cut it short: then it is
        the best found so far.

    Raises
    ------
    LookwrightError
        For goals that no work could reach, before any work where that can be told.
    Cancelled
        Through ``progress``; nothing is written.
    """
    model, text = load_look(look, source=source)
    wishes = goals.wishes(sheet is not None)
    teller(progress)("reading the stills and looking for faces", 0.0)
    with read_once(wishes.stills):  # for faces, for the goals, for doubts
        wishes = replace(wishes, marks=with_found(wishes.marks, wishes.stills, model.source.signal()))
        check_target(out)
        if sheet is not None:
            check_target(sheet)
        tuned = tune_text(model, text, wishes, parameters, date, progress)
    progress.check()
    write_text(out, tuned.text)
    if sheet is not None:
        write_tune_sheet(sheet, tuned.outcome, goals.reference_encoding)
    return tuned


def tune_text(
    look: Look,
    text: str,
    wishes: Wishes,
    parameters: Parameters = EVERY,
    date: str | None = None,
    progress: Progress = SILENT,
) -> Tuned:
    """Tune a look whose recipe is ``text``; nothing is written."""
    p = parameters
    outcome = solve(look, wishes, p.lock, p.free, p.wide, told=teller(progress), advance=lambda count: progress.check())
    lines = note(outcome, date or today(), goal_words(wishes))
    doubts = Doubts([*wishes.stills, *(before for before, _ in wishes.pairs)], look.source.signal()).read()
    new = tuned_text(text, look, outcome.look, free_parameters(look, p.lock, p.free, p.wide), lines)
    return Tuned(new, outcome, doubts)


def teller(progress: Progress) -> Callable[[str, float], None]:
    """What the solver tells, told on: it knows a cost, which is the square of a distance."""

    def told(what: str, cost: float) -> None:
        progress.tell(what, math.sqrt(cost) if cost > 0 else 0.0)
        progress.check()

    return told


def today() -> str:
    """Today's date in ISO form."""
    return datetime.date.today().isoformat()


def goal_words(wishes: Wishes) -> list[str]:
    """What was asked for, for the note in the recipe."""
    words = []
    if wishes.references:
        words.append("reference " + ", ".join(p.name for p in wishes.references))
    if wishes.pairs:
        words.append("pairs " + ", ".join(f"{a.name} and {b.name}" for a, b in wishes.pairs))
    if wishes.wants_levels:
        words.append("levels on marks")
    if wishes.separation is not None:
        words.append(f"a separation of {wishes.separation:g} degrees")
    if wishes.stills:
        words[-1] += f", on {len(wishes.stills)} still{'s' if len(wishes.stills) > 1 else ''}"
    weights = ", ".join(f"{n} {w:g}" for n, w in wishes.weights.items())
    return [*words, f"weights {weights}"] if weights else words
