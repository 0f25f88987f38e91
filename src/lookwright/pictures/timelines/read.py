"""Reading a timeline by its name's ending."""

from __future__ import annotations

from pathlib import Path

from lookwright.errors import TimelineError
from lookwright.reading import read_bytes

from . import edl, otio
from .event import Timeline

ENDINGS = (".edl", ".otio")


def is_timeline(path: Path) -> bool:
    """Whether a name is that of a timeline."""
    return path.suffix.lower() in ENDINGS


def timeline_text(path: Path) -> str:
    """The text of a timeline: of an EDL each byte as the character of that number, so that it can be given back."""
    data = read_bytes(path, edl.LARGEST, "a timeline", TimelineError)
    if path.suffix.lower() == ".edl":
        return data.decode("latin-1")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise TimelineError(str(path), "is no UTF-8 text", "an .otio file") from None


def read_timeline(path: Path, rate: float) -> Timeline:
    """The picture events of an ``.edl`` or ``.otio`` file.

    Parameters
    ----------
    rate
        Frames a second of an EDL's timecode.

    Raises :class:`TimelineError`, also where the extra 'timeline' is not there.
    """
    if not is_timeline(path):
        raise TimelineError(str(path), f"a name ending in {path.suffix or 'nothing'}", " or ".join(ENDINGS))
    text = timeline_text(path)
    if path.suffix.lower() == ".edl":
        return edl.parse_edl(text, str(path), rate)
    return otio.parse(text, str(path))
