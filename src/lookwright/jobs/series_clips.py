"""The clips of a series graded, each with its match and the look: many at a time, and a start where a kill left off."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import lru_cache
from math import inf, isfinite
from pathlib import Path
from typing import Literal

from lookwright.colour.spaces.ranges import Range
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, OutputError, PictureError
from lookwright.files import make_folder
from lookwright.memory import Turns
from lookwright.outputs import Output
from lookwright.pictures.batch import Ledger, key_of, run_cluster, run_local
from lookwright.pictures.clips.beside import beside
from lookwright.pictures.clips.colour import Levels
from lookwright.pictures.clips.read import read_clip
from lookwright.pictures.clips.sound import with_sound
from lookwright.version import __version__

from .clip import clip as grade_whole
from .clip import levels_for
from .given import SignalName
from .progress import SILENT, Progress, Within, ended, part
from .scratch import scratch
from .series_shots import Source
from .steady import Key, joined, steadied

CLIPS = "clips"
"""Folder within the result."""

ClipLayout = Literal["graded", "pair"]

_BYTES_A_PIXEL = 120
"""At most, while a frame is decoded, graded and encoded, with the frames that the encoder holds back."""


@dataclass(frozen=True)
class ClipGrading:
    """What decides all previews of a run but their clips: plain data, so that it can travel to another machine."""

    source: SignalName
    output: SignalName
    layout: ClipLayout = "graded"
    plain: str = ""
    """The LUT of the plain rendering, for pairs."""
    levels: Levels = "expand"
    matrix: str | None = None
    range_: Range | None = None
    quality: int = 16


@dataclass(frozen=True)
class ClipTask:
    """One clip to be graded."""

    grading: ClipGrading
    luts: tuple[tuple[float, str], ...]
    """Each from so many seconds of the clip on: of a clip that was cut where its light changes, one a part."""
    clip: str
    target: str
    first: float
    last: float
    pixels: int
    """Of one frame."""
    keys: tuple[Key, ...] = ()
    """What takes a drift out of the clip; none where nothing is asked or needed."""


@dataclass
class GradedClips:
    """What came of a run."""

    written: list[Path] = field(default_factory=list)
    ready: list[Path] = field(default_factory=list)
    """Previews that were there already as this run would make them."""
    faults: list[LookwrightError] = field(default_factory=list)
    """Clips that could not be read; the rest are done."""


def signal_name(signal: Signal) -> SignalName:
    """A signal as jobs are told it."""
    return SignalName(signal.encoding.name, signal.primaries.name, signal.range)


def preview_files(out: Path, shots: Sequence[Source], layout: ClipLayout) -> list[Output]:
    """What :func:`grade_clips` will write."""
    return [Output(_target(out, group[0], layout), "clip") for group in whole(shots)]


def whole(shots: Sequence[Source]) -> list[list[Source]]:
    """The clips among the shots, the parts of each together: they are graded into one preview. Stills are left out."""
    found: dict[str, list[Source]] = {}
    for shot in shots:
        if shot.clip is not None:
            found.setdefault(shot.name, []).append(shot)
    return list(found.values())


def _target(out: Path, shot: Source, layout: ClipLayout) -> Path:
    return out / CLIPS / f"{shot.name}{'' if layout == 'graded' else '-pair'}.mp4"


def grade_clips(
    grading: ClipGrading,
    shots: Sequence[tuple[Source, Path]],
    out: Path,
    scheduler: str | None = None,
    progress: Progress = SILENT,
    keys: Mapping[str, tuple[Key, ...]] | None = None,
) -> GradedClips:
    """Grade clips into ``out/clips``.

    Parameters
    ----------
    shots
        Clips, each with the LUT file that holds its match and the look; the parts of a clip that was cut make one
        preview, in which the LUT changes where its light does. Stills are passed over.
    scheduler
        Address of a Dask scheduler whose workers see the same files.
    keys
        By name of a shot, keyframes that take a drift out of it.

    Raises
    ------
    LookwrightError
        For a folder that cannot be written, or a scheduler that does not answer.
    Cancelled
        Through ``progress``; previews written so far are whole, and stay.
    """
    made = GradedClips()
    folder = make_folder(out / CLIPS)
    ledger = Ledger(folder)
    ledger.tidy(".mp4")
    made_by: dict[str, str] = {}
    luts = {s.shot: lut for s, lut in shots}
    clips = whole([s for s, _ in shots])
    advance = part(progress, "grading clips", len(clips))
    tasks = _tasks(grading, clips, luts, out, ledger, made_by, made, advance, keys or {})

    def work(task: ClipTask) -> None:
        grade_clip(task, Within(progress))

    with ended(run_cluster(tasks, grade_clip, scheduler) if scheduler else run_local(tasks, work)) as outcomes:
        for outcome in outcomes:
            target = Path(outcome.task.target)
            if outcome.fault is None:
                made.written.append(target)
                ledger.add(target, made_by.pop(outcome.task.target))
            elif isinstance(outcome.fault, PictureError):
                made.faults.append(outcome.fault)
            else:
                raise outcome.fault
            advance(1)
    made.written.sort()
    return made


def _tasks(
    grading: ClipGrading,
    clips: Sequence[Sequence[Source]],
    luts: Mapping[str, Path],
    out: Path,
    ledger: Ledger,
    made_by: dict[str, str],
    made: GradedClips,
    advance: Callable[[int], None],
    keys: Mapping[str, tuple[Key, ...]],
) -> Iterator[ClipTask]:
    """What is left to do; what is there already, or cannot be read, is noted in ``made``."""
    plain = key_of(Path(grading.plain)) if grading.plain else ""
    for parts in clips:
        shot, clip, last = parts[0], parts[0].clip, parts[-1].last
        assert clip is not None
        target = _target(out, shot, grading.layout)
        steady = joined([(p.first, keys.get(p.shot, ())) for p in parts])
        try:
            facts = asdict(grading) | {"plain": plain, "first": shot.first, "last": last, "keys": steady}
            if len(parts) > 1:
                facts["parts"] = [(p.first, key_of(luts[p.shot])) for p in parts]
            key = key_of(shot.path, __version__, key_of(luts[shot.shot]), *sorted(facts.items(), key=str))
        except OSError as exc:
            made.faults.append(PictureError(str(shot.path), exc.strerror or "cannot be read"))
            advance(1)
            continue
        if ledger.has(target, key):
            made.ready.append(target)
            advance(1)
            continue
        made_by[str(target)] = key
        yield ClipTask(
            grading,
            tuple((p.first, str(luts[p.shot])) for p in parts),
            str(shot.path),
            str(target),
            shot.first,
            last,
            clip.width * clip.height,
            steady,
        )


def grade_clip(task: ClipTask, progress: Progress = SILENT) -> None:
    """Grade one clip into its target, with its sound.

    Raises :class:`PictureError` for a clip that cannot be read, :class:`OutputError` for a target that cannot be
    written.
    """
    target = Path(task.target)
    with _turns().of(task.pixels * _BYTES_A_PIXEL), scratch(target.parent) as folder:
        shown = task
        if task.keys:
            shown = _steadied(task, folder / "steady.mov")
        picture = _graded(shown, shown.luts, folder / "graded.mp4", progress)
        if task.grading.layout == "pair":
            plain = _graded(task, ((task.first, task.grading.plain),), folder / "plain.mp4", progress)
            picture = folder / "pair.mp4"
            beside(plain, folder / "graded.mp4", picture, task.grading.quality)
        with_sound(picture, Path(task.clip), target, task.first, task.last)


def _steadied(task: ClipTask, target: Path) -> ClipTask:
    """The same task on its clip with the drift taken out."""
    grading = task.grading
    clip = read_clip(task.clip, grading.matrix, grading.range_)
    levels = levels_for(grading.source.range, grading.levels)
    begins = steadied(clip, task.first, task.last, levels, task.keys, target)
    luts = tuple((at - begins, lut) for at, lut in task.luts)
    grading = replace(grading, matrix=None, range_=None)
    return replace(task, clip=str(target), luts=luts, first=0.0, last=inf, grading=grading)


def _graded(task: ClipTask, luts: Sequence[tuple[float, str]], target: Path, progress: Progress) -> Path:
    grading = task.grading
    try:
        grade_whole(
            Path(luts[0][1]),
            Path(task.clip),
            target,
            first=task.first,
            last=task.last if isfinite(task.last) else None,
            # What is encoded once more beside the other is kept better.
            quality=grading.quality if grading.layout == "graded" else max(0, grading.quality - 8),
            matrix=grading.matrix,
            range_=grading.range_,
            levels=grading.levels,
            source=grading.source,
            output=grading.output,
            changes=[(at, Path(lut)) for at, lut in luts[1:]],
            progress=progress,
        )
    except OutputError as exc:
        raise OutputError(task.target, exc.got, exc.expected, exc.hint) from None
    return target


@lru_cache(maxsize=1)
def _turns() -> Turns:
    return Turns()
