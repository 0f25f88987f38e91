"""Every form of a matched series written: files, timeline, graded clips."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from pathlib import Path

from lookwright.look.baking.shot_lut import UNMATCHED
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.formats.cdl import Correction
from lookwright.lut.formats.otio_cdl import EventPart

from .plain_lut import write_plain
from .progress import Progress
from .series_clips import ClipGrading, GradedClips, grade_clips, signal_name
from .series_files import CUBES, HandedOn, write_shots, write_timeline
from .series_material import PLAIN, ClipReading, Cut, Forms, Material
from .series_shots import Source


@dataclass
class Passed:
    """What was handed on."""

    files: list[Path] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    clips: GradedClips | None = None


def hand_on(
    held: Material,
    out: Path,
    look: Look,
    recipe: str,
    view: View,
    corrections: Sequence[Correction],
    matched: Mapping[str, bool],
    cut: Cut,
    reading: ClipReading,
    forms: Forms,
    progress: Progress,
) -> Passed:
    """Write every form of the matches that is wanted.

    Parameters
    ----------
    corrections
        One a shot, in the look's source signal, named as the shots are.
    matched
        By name of a shot whether it was; events of others get no values.
    """
    corrections = [c if matched.get(c.id) else replace(c, words=(*c.words, UNMATCHED)) for c in corrections]
    by_name = {c.id: c for c in corrections}
    done = write_shots(out, look, recipe, view, corrections, forms.handed, progress)
    passed = Passed(done.files, done.notes)
    if cut.timeline is not None:
        _add(passed, _timeline(held, out, cut.timeline, by_name, matched))
    if forms.clips is not None:
        pipeline = compile_look(look)
        plain = ""
        if forms.clips == "pair":
            path = write_plain(out / CUBES / PLAIN, look, forms.size)
            passed.files.append(path)
            plain = str(path)
        grading = ClipGrading(
            signal_name(pipeline.source),
            signal_name(pipeline.output),
            forms.clips,
            plain,
            reading.levels,
            reading.matrix,
            reading.range_,
        )
        wanted = [(s, done.cubes[s.shot]) for s in held.sources if s.shot in done.cubes]
        passed.clips = grade_clips(grading, wanted, out, forms.scheduler, progress, held.keys)
        passed.files += passed.clips.written
    return passed


def _timeline(
    held: Material, out: Path, timeline: Path, corrections: Mapping[str, Correction], matched: Mapping[str, bool]
) -> HandedOn:
    places: dict[int, Correction] = {}
    changes: dict[int, list[EventPart]] = {}
    for event, parts in _events(held):
        main = max(parts, key=lambda p: round(p.seconds, 3))
        known = {p.shot: corrections[p.shot] for p in parts if p.shot in corrections and matched.get(p.shot)}
        if main.shot in known:
            places[event] = known[main.shot]
        if len(parts) > 1:
            opens = [min(held.inside[p.shot].times) for p in parts]
            changes[event] = [
                EventPart(p.shot, at - opens[0], known.get(p.shot)) for p, at in zip(parts, opens, strict=True)
            ]
    done = write_timeline(out, timeline, places, changes)
    left = held.total - len(places)
    if left:
        done.notes.append(f"{timeline.name}: {left} of {held.total} events were not matched and got no CDL values")
    return done


def _events(held: Material) -> Iterator[tuple[int, list[Source]]]:
    """Each event by its place, with what its media were cut into."""
    for event, parts in groupby(held.sources, key=lambda s: s.event):
        if event is not None:
            yield event, list(parts)


def _add(passed: Passed, done: HandedOn) -> None:
    passed.files += done.files
    passed.notes += done.notes
