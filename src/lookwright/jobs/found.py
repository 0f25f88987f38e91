"""Marks found where none were drawn: faces, their two sides, forehead and cheeks (extra ``faces``)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from lookwright.assess.breakdown.faces import can_find_faces, find_faces
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, PictureError
from lookwright.pictures.stills import CodedStill, Mark, Still, marks_for, read_either

from .small_frames import seen

FOUND = "found "
"""Begins the name of each such mark, so that every report says so."""
MOST_FACES = 4


def found_marks(still: Still | CodedStill, signal: Signal) -> list[Mark]:
    """Marks on the faces of a still; none where the extra is not installed, or the still too small."""
    if not can_find_faces():
        return []
    try:
        frame = seen(still.pixels, signal, None).frame
    except PictureError:
        return []
    # scipy's image filters take a third of a second to import, and most stills have marks or nobody looks for faces.
    from lookwright.assess.breakdown.face_parts import sides_of
    from lookwright.assess.breakdown.part import box_round, innermost

    faces = find_faces(frame.picture)[:MOST_FACES]
    marks: list[Mark] = []
    for i, face in enumerate(faces, start=1):
        name = FOUND + ("face" if len(faces) == 1 else f"face {i}")
        sides = sides_of(face, frame, name)
        for part in sides.parts:
            row, column, depth = innermost(part.mask)
            # An evenly lit face has no key side of its own to divide by.
            role = part.role if len(sides.parts) > 1 else "skin"
            marks.append(Mark(part.name, box_round(row, column, depth, part.mask.shape), role=role))
        marks += [Mark(f"{name}, {place}", box, role="skin") for place, box in sides.places if place == "forehead"]
    return marks


def with_found(table: Mapping[str, list[Mark]], paths: Sequence[Path], signal: Signal) -> dict[str, list[Mark]]:
    """The table, and found marks for those stills that have none in it."""
    out = dict(table)
    if can_find_faces():
        for path in paths:
            if not marks_for(table, path) and path.stem not in out:
                out[path.stem] = []  # else those found on shot.png would stand for shot_2.png too
                with suppress(LookwrightError):  # whoever reads it next says what is wrong
                    out[path.stem] = found_marks(read_either(path), signal)
    return out


def only_found(marks: Sequence[Mark]) -> bool:
    """Whether these were found, none drawn."""
    return bool(marks) and all(m.name.startswith(FOUND) for m in marks)
