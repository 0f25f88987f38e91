"""What ``lookwright series`` says of its result."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .options import tell, tell_json

if TYPE_CHECKING:
    from lookwright.jobs.series import Series
    from lookwright.jobs.series_memory import Kept


def tell_result(made: Series, kept: Kept | None, quiet: bool, as_json: bool) -> None:
    """A line a shot, or everything for a program."""
    if as_json:
        tell_json(
            {
                "shots": [s.to_dict() for s in made.shots],
                "inside": {name: i.to_dict() for name, i in made.inside.items()},
                "within": made.within,
                "faults": [f.line() for f in made.every_fault],
                "files": [str(w) for w in made.files],
                "clips_there_already": [str(c) for c in made.clips.ready] if made.clips else [],
                "doubts": made.doubts,
                "notes": list(made.notes),
                "memory": kept.to_dict() if kept is not None else None,
            }
        )
        return
    for shot in made.shots:
        tell(quiet, False, shot.sentence())
        for sentence in made.within.get(shot.shot, ()):
            tell(quiet, False, f"  within {shot.shot}: {sentence}")
    for note in made.notes:
        tell(quiet, False, note)
    if made.clips is not None:
        there = f", {len(made.clips.ready)} there already" if made.clips.ready else ""
        tell(quiet, False, f"graded {len(made.clips.written)} clip(s){there}")


def tell_kept(kept: Kept | None, quiet: bool) -> None:
    """What the file that keeps the series tells of its episodes."""
    if kept is not None:
        for sentence in kept.sentences():
            tell(quiet, False, sentence)
        tell(quiet, False, f"kept in {kept.file}")
