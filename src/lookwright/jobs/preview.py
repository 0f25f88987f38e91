"""Grading stills: graded, before and after, or many on one sheet, over all cores or over a cluster."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

from lookwright.errors import LookwrightError, PictureError
from lookwright.files import new_folder
from lookwright.look.baking.viewing import View
from lookwright.names import Names
from lookwright.outputs import Output, holds
from lookwright.pictures.batch import Ledger, Outcome, key_of, run_cluster, run_local
from lookwright.pictures.stills import CodedStill, Still, find_stills, read
from lookwright.present.sheets.canvas import fitted, to_image
from lookwright.present.sheets.layouts import Frame, contact

from .compare import Comparison, suffix_for
from .doubts import Doubts
from .forms import Loading, Wanted, forms_of
from .given import SignalName
from .grading import Grading, Layout, Suffix, Task, grade, turn, view_of
from .job import declare, job, later
from .luts import load_look_or_lut, name_of
from .pictures import GRADED, save
from .progress import SILENT, Progress, ended, part

PAGE = 60
"""Frames on one contact sheet; more make further sheets, since a longer one is not looked at."""

RESUMABLE = 9
"""From this many stills on, a ledger of finished pictures is kept in the folder."""

Advance = Callable[[int], None]
Notice = Callable[[Still | CodedStill], None]


@dataclass
class Previews:
    """What came of a run."""

    output: str = ""
    """What the pictures are, in words."""
    note: str = ""
    """What was done to make the look visible, in words; often nothing."""
    written: list[Path] = field(default_factory=list)
    ready: list[Path] = field(default_factory=list)
    """Files that were there already as this run would make them."""
    faults: list[LookwrightError] = field(default_factory=list)
    """Stills that could not be read; the rest are done."""
    left_out: list[Path] = field(default_factory=list)
    """Pictures among the stills, in the folder written to, that were graded already."""
    doubts: dict[str, list[str]] = field(default_factory=dict)
    """By name of a still: signs that it is not the signal the look is fed."""
    names: list[str] = field(default_factory=list)
    """What was changed in names, for systems that could not hold them; a sentence each."""

    def take(self, outcome: Outcome[Task]) -> None:
        """Note the end of one still; raises its fault when no other will fare better (a full disk)."""
        if outcome.fault is None:
            self.written.append(Path(outcome.task.target))
        elif isinstance(outcome.fault, PictureError):
            self.faults.append(outcome.fault)
        else:
            raise outcome.fault


@job(out=later)
def preview(
    look: Path,
    stills: Sequence[Path],
    out: Path,
    *,
    layout: Layout = "graded",
    suffix: Suffix | None = None,
    at: float = 0.5,
    strengths: Sequence[float] = (),
    vary: str | None = None,
    others: Sequence[Path] = (),
    hold: float = 2.0,
    size: int = 33,
    strength: float | None = None,
    source: SignalName | None = None,
    output: SignalName | None = None,
    correction: str | None = None,
    scheduler: str | None = None,
    progress: Progress = SILENT,
) -> Previews:
    """Grade stills into the folder ``out``.

    Parameters
    ----------
    look
        A look, or a LUT file with ``source`` and ``output`` where it does not say them itself.
    stills
        Pictures, or folders of them, in the look's source signal.
    layout, at
        As :class:`Grading`; ``at`` is where a wipe is cut, 0 to 1. ``variants`` puts forms of the look on one sheet,
        ``turns`` shows them one after the other as a moving picture.
    suffix
        None: ``jpg``, for ``turns`` ``webp``.
    strengths, vary, others
        The forms, for ``variants`` and ``turns``: strengths 0 to 1; ``STEP.NUMBER=VALUE,VALUE``, without values over
        the usual range; or other looks. None of them: strengths .3, .6 and 1, in turns before and after.
    hold
        Seconds that each stands in turns, 1 to 20.
    size
        Points on each side of the lattice; a LUT file is applied as it is, without one.
    correction
        Id of one correction in an ASC CDL collection.
    scheduler
        Address of a Dask scheduler whose workers see the same files.

    Returns
    -------
    Previews
        A still that cannot be read is a fault in it, and the rest are done.

    Raises
    ------
    LookwrightError
        For what stops everything: the look, a folder that cannot be written, no still that can be read.
    Cancelled
        Through ``progress``; pictures written so far are whole, and stay.
    """
    suffix = suffix_for(layout, suffix)
    wanted = Wanted(strengths, vary, others, hold)
    wanted.check(layout, strength, scheduler)
    model, text = load_look_or_lut(look, source, output, strength, table=True, correction=correction)
    paths, left_out = without_grades(find_stills(stills), out)
    names = Names()
    if layout == "variants" or layout == "turns":
        loading = Loading(size, strength, source, output)
        heading, forms = forms_of(look, model, wanted, loading, layout == "turns")
        view, name = forms[0].view, names.part(name_of(look, correction))
        doubts = Doubts(paths, view.pipeline.source)
        comparison = Comparison(name, heading, forms, layout, suffix, out, hold, doubts)
        compared = comparison.write([look, paths, others], paths, names, progress)
        made = Previews(view.output.describe(), view.note, compared.written, faults=[*compared.faults])
        return _told(made, left_out, doubts, names)
    grading = Grading(
        text, str(look.parent), names.part(name_of(look, correction)), model.strength, size, layout, suffix, at
    )
    declare([look, paths], targets(grading, paths, out, names))
    view, _ = view_of(grading)
    doubts = Doubts(paths, view.pipeline.source)
    with new_folder(out):
        made = write_previews(grading, paths, out, part(progress, "grading", len(paths)), scheduler, doubts)
        if made.faults and not made.written and not made.ready:
            raise made.faults[0]
    return _told(made, left_out, doubts, names)


def _told(made: Previews, left_out: list[Path], doubts: Doubts, names: Names) -> Previews:
    """With what is to be said beside the pictures."""
    made.left_out = left_out
    made.doubts = doubts.sorted()
    made.names = names.sentences()
    return made


def without_grades(paths: Sequence[Path], out: Path) -> tuple[list[Path], list[Path]]:
    """Stills, and those of them in ``out`` that an earlier run made there: to be written again, not to be graded.

    Raises :class:`PictureError` where all are.
    """
    with suppress(OSError):
        folders = {folder for folder in {p.parent for p in paths} if folder.samefile(out)}
        graded = {p for p in paths if p.parent in folders and holds(p, GRADED.encode())}
        if len(graded) == len(paths):
            raise PictureError(str(out), "holds only pictures that were graded already", hint="choose another --out")
        return [p for p in paths if p not in graded], [p for p in paths if p in graded]
    return list(paths), []  # there is no such folder yet


def targets(grading: Grading, paths: Sequence[Path], out: Path, names: Names | None = None) -> list[Output]:
    """What a run writes; ``names`` is told which of them had to be changed."""
    if grading.layout == "sheet":
        return [Output(out / name, "picture") for name in _sheet_names(grading, len(paths))]
    return [Output(out / name, "picture") for name in _names(grading, paths, names)]


def _names(grading: Grading, paths: Sequence[Path], names: Names | None = None) -> Iterator[str]:
    """The file of each still, in their order."""
    names = names or Names()
    for path in paths:
        yield names.of(path.stem, f"-{grading.name}{grading.ending}.{grading.suffix}")


def _sheet_names(grading: Grading, stills: int) -> list[str]:
    """The file of each :data:`PAGE` of stills."""
    pages = -(-stills // PAGE)
    return [f"{grading.name}-sheet{f'-{n}' if pages > 1 else ''}.{grading.suffix}" for n in range(1, pages + 1)]


def write_previews(
    grading: Grading,
    paths: Sequence[Path],
    out: Path,
    advance: Advance,
    scheduler: str | None = None,
    notice: Notice | None = None,
) -> Previews:
    """Grade ``paths`` into ``out``; ``notice`` is shown each still that this machine reads.

    Raises :class:`LookwrightError` for a fault that stops everything: the look, or a target that cannot be written.
    """
    view, digest = view_of(grading)
    made = Previews(view.output.describe(), view.note)
    if grading.layout == "sheet":
        _write_sheets(grading, view, paths, out, advance, notice, made)
        return made
    # A few pictures are made anew in a moment; a season's are not.
    ledger = _Kept(out, grading.suffix, digest, view.look.title) if len(paths) >= RESUMABLE else None
    tasks = _tasks(grading, view, paths, out, ledger, made, advance)
    work = partial(grade, notice=notice)
    with ended(run_cluster(tasks, grade, scheduler) if scheduler else run_local(tasks, work)) as outcomes:
        for outcome in outcomes:
            made.take(outcome)
            if outcome.fault is None and ledger is not None:
                ledger.add(Path(outcome.task.target))
            advance(1)
    made.written.sort()
    return made


class _Kept:
    """The ledger of a folder, with the keys of the pictures that are being made."""

    def __init__(self, out: Path, suffix: str, digest: str, title: str) -> None:
        self._ledger, self._digest, self._title = Ledger(out), digest, title
        self._keys: dict[Path, str] = {}
        self._ledger.tidy("." + suffix)

    def has(self, path: Path, target: Path) -> bool:
        """Whether the picture of this still is there already; raises :class:`OSError` for one that cannot be read."""
        key = key_of(path, path.name, self._title, self._digest)
        if self._ledger.has(target, key):
            return True
        self._keys[target] = key
        return False

    def add(self, target: Path) -> None:
        """It is there now."""
        self._ledger.add(target, self._keys.pop(target))


def _tasks(
    grading: Grading,
    view: View,
    paths: Sequence[Path],
    out: Path,
    ledger: _Kept | None,
    made: Previews,
    advance: Advance,
) -> Iterator[Task]:
    """What is left to do; what is there already, or cannot be read, is noted in ``made``."""
    for path, name in zip(paths, _names(grading, paths), strict=True):
        target = out / name
        try:
            there = ledger is not None and ledger.has(path, target)
        except OSError as exc:
            made.faults.append(PictureError(str(path), exc.strerror or "cannot be read"))
            advance(1)
            continue
        if there:
            made.ready.append(target)
            advance(1)
            continue
        yield Task(grading, str(path), str(target), f"{path.stem}: {view.output.encoding.name}")


def _write_sheets(
    grading: Grading,
    view: View,
    paths: Sequence[Path],
    out: Path,
    advance: Advance,
    notice: Notice | None,
    made: Previews,
) -> None:
    """Contact sheets of all stills, :data:`PAGE` on each."""
    rest = iter(paths)
    for name in _sheet_names(grading, len(paths)):
        chunk = list(islice(rest, PAGE))
        small = _small(grading, view, chunk, advance, notice, made)
        frames = [Frame(small[str(p)], p.stem) for p in chunk if str(p) in small]
        if not frames:
            continue
        target = out / name
        save(target, contact(frames, f"{view.look.title or grading.name}: {view.output.describe()}"), view)
        made.written.append(target)


def _small(
    grading: Grading, view: View, chunk: Sequence[Path], advance: Advance, notice: Notice | None, made: Previews
) -> dict[str, Any]:
    """Each still graded and at the width of a sheet, by its path."""
    small: dict[str, Any] = {}
    read_ones = Previews()

    def work(task: Task) -> None:
        with turn(task):
            still = read(Path(task.still))
            if notice is not None:
                notice(still)
            own = still.pixels if still.pixels.flags.writeable else None  # what is decoded once is others' too
            graded = view.graded(still.pixels, no_nan=True, out=own)
            small[task.still] = fitted(to_image(graded), 640)

    with ended(run_local((Task(grading, str(p), str(p), "") for p in chunk), work)) as outcomes:
        for outcome in outcomes:
            read_ones.take(outcome)
            advance(1)
    made.faults += read_ones.faults
    return small
