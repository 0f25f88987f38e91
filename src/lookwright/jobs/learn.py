"""Learning from graded frames what a look's steps cannot say: a tuned recipe, a lattice behind it, and its map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lookwright.errors import OutputError
from lookwright.files import check_target, write_text
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.lut.formats.cube import write_cube
from lookwright.outputs import Output
from lookwright.pictures.stills import read_once
from lookwright.present.sheets.learn_sheet import write_coverage
from lookwright.solve.learn.learn import Learnt, with_lattice
from lookwright.solve.learn.learn import learn as solve
from lookwright.solve.learn.residual import Residual, as_data
from lookwright.solve.tune.barrier import all_harm
from lookwright.solve.tune.free import free_parameters
from lookwright.solve.tune.recipe import remark, tuned_text
from lookwright.solve.tune.run import failing_words
from lookwright.solve.tune.words import as_data as tuned_data
from lookwright.solve.tune.words import in_words, note

from .given import SignalName
from .job import job
from .looks import load_look
from .progress import SILENT, Progress
from .tune import teller, today

Pairs = Sequence[tuple[Path, Path]]


@dataclass(frozen=True)
class LearntLook:
    """The files that were written, and what was learnt."""

    file: Path
    cube: Path | None
    """The lattice; None when the recipe alone is enough."""
    coverage: Path | None
    """The map of the colours it speaks for."""
    learnt: Learnt
    failing: tuple[str, ...]
    """Measures of ``check`` that fail with the lattice."""

    @property
    def stopped(self) -> bool:
        """Whether Ctrl-C cut the tuning short."""
        return self.learnt.outcome is not None and self.learnt.outcome.stopped

    @property
    def passes(self) -> bool:
        """Whether ``check`` passes on the result."""
        if self.learnt.residual is not None:
            return not self.failing
        return self.learnt.outcome is None or self.learnt.outcome.passes

    @property
    def tuned_words(self) -> str:
        """What the tuning did; empty where there was none."""
        return "" if self.learnt.outcome is None else in_words(self.learnt.outcome)

    def to_dict(self) -> dict[str, Any]:
        """All figures, ready for JSON."""
        data: dict[str, Any] = {"left_by_recipe": self.learnt.left}
        if self.learnt.outcome is not None:
            data["tuned"] = tuned_data(self.learnt.outcome)
        if self.learnt.residual is not None:
            files = {"file": str(self.cube), "coverage_map": str(self.coverage)}
            data["lattice"] = files | as_data(self.learnt.residual)
            data["check_fails"] = list(self.failing)
        return data


@dataclass(frozen=True)
class _Targets:
    """Where things go."""

    look: Path
    cube: Path
    coverage: Path

    @classmethod
    def beside(cls, out: Path) -> _Targets:
        """All under one name; raises :class:`OutputError` for a name that does not tell what it is."""
        if out.suffix.lower() != ".toml":
            raise OutputError(
                str(out), "the name does not end in .toml", hint="the .cube beside it takes the same name"
            )
        return cls(out, out.with_suffix(".cube"), out.with_name(f"{out.stem}-coverage.png"))

    def files(self) -> list[Output]:
        """What they will hold."""
        return [Output(self.look, "look"), Output(self.cube, "cube"), Output(self.coverage, "drawing")]


@job(out=lambda given: _Targets.beside(given["out"]).files())
def learn(
    look: Path,
    out: Path,
    pairs: Pairs,
    *,
    tuned: bool = True,
    lock: Sequence[str] = (),
    free: Sequence[str] = (),
    seed: int = 0,
    date: str | None = None,
    source: SignalName | None = None,
    progress: Progress = SILENT,
) -> LearntLook:
    """Tune a look to pairs of frames, ungraded and graded, and add a small smooth lattice for what is left.

    Parameters
    ----------
    out
        The new look (.toml); a .cube and a map of coverage are written beside it under the same name.
    tuned
        False: take the look's parameters as they are.
    lock, free
        As :class:`tune.Parameters`.
    seed
        Chooses the pixels learnt from.
    date
        In the note that the new look gets; None: today's.
    source
        In place of the look's own; the new look has it.

    Raises
    ------
    LookwrightError
        For frames that do not belong together, or a lattice that must not be used.
    Cancelled
        Through ``progress``; nothing is written.
    """
    model, text = load_look(look, source=source)
    targets = _Targets.beside(out)
    for file in targets.files():
        check_target(file.path)
    with read_once(frame for pair in pairs for frame in pair):  # looked at for alignment, tuned to, learnt from
        learnt = solve(model, pairs, tuned, lock, free, seed, teller(progress), advance=lambda count: progress.check())
    progress.check()
    when = date or today()
    new = text
    if learnt.outcome is not None:
        names = ", ".join(f"{a.name} and {b.name}" for a, b in pairs)
        lines = note(learnt.outcome, when, [f"pairs {names}"])
        new = tuned_text(text, model, learnt.look, free_parameters(model, lock, free), lines)
    failing: tuple[str, ...] = ()
    residual = learnt.residual
    if residual is not None:
        _write_lattice(targets, model, residual, len(pairs))
        new = _with_lattice(new, model, targets, residual, len(pairs), when)
        failing = _failing(new, out)
    write_text(out, new)
    cube, coverage = (None, None) if residual is None else (targets.cube, targets.coverage)
    return LearntLook(out, cube, coverage, learnt, failing)


def _write_lattice(targets: _Targets, look: Look, residual: Residual, pairs: int) -> None:
    signal = look.output.signal()
    title = look.title or targets.look.stem
    comments = [
        f"Learnt from {pairs} pair(s) of frames; belongs behind the steps of {targets.look.name}",
        f"Feed it: {signal.describe()}",
        f"It gives: {signal.describe()}",
        f"Samples speak for {100 * residual.coverage:.1f} % of the lattice; away from them it fades to nothing",
    ]
    write_cube(targets.cube, residual.lattice, title=f"{title}: learnt", comments=comments)
    write_coverage(targets.coverage, residual, title, look.output.encoding)


def _with_lattice(text: str, look: Look, targets: _Targets, residual: Residual, pairs: int, when: str) -> str:
    left = f"{100 * residual.before:.2f} -> {100 * residual.after:.2f} % of signal"
    return (
        with_lattice(text, look, targets.cube.name)
        + "\n"
        + remark([f"{when}: lattice learnt from {pairs} pair(s), {left} on pixels kept apart."])
    )


def _failing(text: str, out: Path) -> tuple[str, ...]:
    """What fails on the new look, its lattice in place; raises :class:`RecipeError` where it does not compile."""
    final = parse_look(text, str(out)).with_folder(out.parent)
    compile_look(final)
    return tuple(failing_words(all_harm(final)))
