"""Writing preview pictures in the layouts the command line offers, many at a time."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lookwright.arrays import Pixels
from lookwright.errors import LookwrightError, PictureError
from lookwright.pictures.batch import Ledger, Outcome, key_of, run_cluster, run_local, unique
from lookwright.pictures.stills import profile_for, read, write
from lookwright.present.sheets.layouts import Frame, contact, pair, wipe

if TYPE_CHECKING:
    from lookwright.colour.spaces.signal import Signal
    from lookwright.look.baking.viewing import View
    from lookwright.pictures.stills import Still


PAGE = 60
"""Frames on one contact sheet; more make further sheets, since a longer one is not looked at."""

RESUMABLE = 9
"""From this many stills on, a ledger of finished pictures is kept in the folder."""


@dataclass(frozen=True)
class Job:
    """Everything that decides a preview but the still: plain data, so that it can travel to another machine."""

    recipe: str
    folder: str
    name: str
    strength: float
    size: int
    layout: str
    suffix: str
    at: float


@dataclass(frozen=True)
class Task:
    """One still of a job."""

    job: Job
    still: str
    target: str
    heading: str


_building = threading.Lock()


@lru_cache(maxsize=4)
def _view(recipe: str, folder: str, name: str, strength: float, size: int) -> View:
    from lookwright.look.baking.viewing import View
    from lookwright.look.recipe.read import parse_look

    # One thread a picture: the pictures themselves are spread over the cores.
    return View(parse_look(recipe, name).with_folder(Path(folder)).with_strength(strength), size, threads=1)


def view_of(job: Job) -> tuple[View, str]:
    """The job's look made ready, once per process, and a digest of all that decides its pictures but the still."""
    from lookwright import __version__

    with _building:
        view = _view(job.recipe, job.folder, job.name, job.strength, job.size)
        digest = view.ready(plain=job.layout in ("pair", "wipe"))
    return view, f"{__version__} {digest} {job.layout} {job.suffix} {job.at}"


class Doubts:
    """Whether a few of the stills look like what the look is fed: the wrong signal spoils any look without a word."""

    MOST = 8
    """Stills looked at, evenly over the list."""

    def __init__(self, paths: list[Path], source: Signal) -> None:
        self._chosen = set(paths[:: max(1, -(-len(paths) // self.MOST))])
        self._source = source
        self.sentences: dict[str, list[str]] = {}
        """By name of the still."""

    def __call__(self, still: Still) -> None:
        """Look at a still if it is one of those chosen; called from several threads."""
        from lookwright.assess.measure.plausible import findings

        if still.path in self._chosen:
            found = [f.sentence for f in findings(still.pixels, self._source, most=50_000)]
            if found:
                self.sentences[still.path.name] = found

    def lines(self) -> list[str]:
        """One line for each still and doubt, in the order of names."""
        return [f"doubt: {name}: {text}" for name, texts in sorted(self.sentences.items()) for text in texts]


def grade(task: Task, notice: Callable[[Still], None] | None = None) -> None:
    """Grade one still into its target; ``notice`` is shown the still.

    Raises :class:`PictureError` for a still that cannot be read, :class:`OutputError` for a target that cannot be
    written.
    """
    job = task.job
    view, _ = view_of(job)
    still = read(Path(task.still))
    if notice is not None:
        notice(still)
    after = view.graded(still.pixels, no_nan=True)
    if job.layout == "graded":
        save(Path(task.target), after, view, still.alpha)
        return
    before = Frame(view.plain(still.pixels, no_nan=True), "plain rendering")
    shown = Frame(after, view.look.title or job.name)
    picture = pair(before, shown, task.heading) if job.layout == "pair" else wipe(before, shown, task.heading, job.at)
    save(Path(task.target), picture, view)


def write_previews(
    job: Job,
    paths: list[Path],
    out: Path,
    advance: Callable[[int], None],
    scheduler: str | None = None,
    notice: Callable[[Still], None] | None = None,
) -> tuple[list[Path], list[Path], list[LookwrightError]]:
    """Grade ``paths`` into ``out``; ``notice`` is shown each still that this machine reads.

    Returns the files written, the files that were there already as this job would make them, and the faults of single
    stills. Raises :class:`LookwrightError` for a fault that stops everything: the look, or a target that cannot be
    written.
    """
    view, digest = view_of(job)
    if job.layout == "sheet":
        return _sheets(job, view, paths, out, advance, notice)
    # A few pictures are made anew in a moment; a season's are not.
    ledger = Ledger(out) if len(paths) >= RESUMABLE else None
    if ledger is not None:
        ledger.tidy("." + job.suffix)
    keys: dict[str, str] = {}
    ready: list[Path] = []
    written: list[Path] = []
    faults: list[LookwrightError] = []

    def tasks() -> Iterator[Task]:
        taken: set[str] = set()
        for path in paths:
            target = out / f"{unique(path.stem, taken)}-{job.name}{_ending(job)}.{job.suffix}"
            if ledger is None:
                yield Task(job, str(path), str(target), f"{path.stem}: {view.output.encoding.name}")
                continue
            try:
                key = key_of(path, path.name, view.look.title, digest)
            except OSError as exc:
                faults.append(PictureError(str(path), exc.strerror or "cannot be read"))
                advance(1)
                continue
            if ledger.has(target, key):
                ready.append(target)
                advance(1)
                continue
            keys[str(target)] = key
            yield Task(job, str(path), str(target), f"{path.stem}: {view.output.encoding.name}")

    outcomes = run_cluster(tasks(), grade, scheduler) if scheduler else run_local(tasks(), lambda t: grade(t, notice))
    for outcome in outcomes:
        _take(outcome, written, faults)
        if outcome.fault is None:
            target = Path(outcome.task.target)
            if ledger is not None:
                ledger.add(target, keys.pop(outcome.task.target))
        advance(1)
    return sorted(written), ready, faults


def _take(outcome: Outcome[Task], written: list[Path], faults: list[LookwrightError]) -> None:
    if outcome.fault is None:
        written.append(Path(outcome.task.target))
    elif isinstance(outcome.fault, PictureError):
        faults.append(outcome.fault)
    else:
        raise outcome.fault  # the disk is full, the folder is gone: no other still will fare better


def _sheets(
    job: Job,
    view: View,
    paths: list[Path],
    out: Path,
    advance: Callable[[int], None],
    notice: Callable[[Still], None] | None,
) -> tuple[list[Path], list[Path], list[LookwrightError]]:
    written: list[Path] = []
    faults: list[LookwrightError] = []
    pages = -(-len(paths) // PAGE)
    rest = iter(paths)
    for page in range(1, pages + 1):
        small: dict[str, Any] = {}
        chunk = list(islice(rest, PAGE))

        def work(task: Task, small: dict[str, Any] = small) -> None:
            from lookwright.present.sheets.canvas import fitted, to_image

            still = read(Path(task.still))
            if notice is not None:
                notice(still)
            small[task.still] = fitted(to_image(view.graded(still.pixels, no_nan=True)), 640)

        for outcome in run_local((Task(job, str(p), str(p), "") for p in chunk), work):
            _take(outcome, [], faults)
            advance(1)
        from lookwright.present.sheets.canvas import from_image

        frames = [Frame(from_image(small[str(p)]), p.stem) for p in chunk if str(p) in small]
        if not frames:
            continue
        number = f"-{page}" if pages > 1 else ""
        target = out / f"{job.name}-sheet{number}.{job.suffix}"
        save(target, contact(frames, f"{view.look.title or job.name}: {view.output.describe()}"), view)
        written.append(target)
    return written, [], faults


def save(target: Path, pixels: Pixels, view: View, alpha: Pixels | None = None) -> None:
    """Write with the output's ICC profile where there is one and the format holds it."""
    icc = profile_for(view.output.encoding.name, view.output.primaries.name)
    text = f"{view.look.title}: {view.output.describe()}" + ("" if icc else ", no ICC profile for this encoding")
    suffix = target.suffix.lower()
    write(
        target,
        pixels,
        alpha=alpha if suffix != ".jpg" else None,
        icc=icc,
        metadata={"description": text, "software": "lookwright"},
    )


def thumbnail(pixels: Pixels, width: int = 640) -> Pixels:
    """The picture at most ``width`` wide, 8 bits deep."""
    from lookwright.present.sheets.canvas import fitted, from_image, to_image

    return from_image(fitted(to_image(pixels), width))


def _ending(job: Job) -> str:
    return "" if job.layout == "graded" else f"-{job.layout}"
