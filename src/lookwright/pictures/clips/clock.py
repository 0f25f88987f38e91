"""The timecode that a clip begins at, where it says so."""

from __future__ import annotations

from pathlib import Path

from .decode import open_clip


def timecode_of(path: Path) -> str:
    """What the clip's clock shows at its first frame, such as ``10:00:05:00``; empty where it has none.

    Read from a timecode track or the file's own notes. Raises :class:`PictureError` for what is no clip.
    """
    with open_clip(path) as (container, stream):
        for notes in (stream.metadata, *(s.metadata for s in container.streams), container.metadata):
            if said := str(notes.get("timecode", "")):
                return said
    return ""
