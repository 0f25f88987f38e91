"""Where the media of a timeline lie: found by the names that its events give."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from urllib.parse import unquote, urlsplit

from lookwright.errors import TimelineError
from lookwright.names import folded
from lookwright.pictures.clips.find import is_shot

from .event import Event

_RESULT = "series.ccc"
"""By this file a folder is known for the result of an earlier run: its clips have the names of what they came from."""

MOST_FILES = 200_000
"""Files looked at below the folders of media: a whole disk is not what was meant."""


class Media:
    """The clips and stills below some folders, by name."""

    def __init__(self, folders: Sequence[Path], beside: Path, without: Path | None = None) -> None:
        """``beside`` is the timeline's own folder, where relative paths in it begin; searched where no folder is named.
        ``without`` is a folder left out: what an earlier run wrote there has the names of what it was made from.
        """
        self._beside = beside
        self._by_name: dict[str, list[Path]] = {}
        self._by_stem: dict[str, list[Path]] = {}
        for folder in folders:
            if not folder.is_dir():
                got = "is no folder" if folder.exists() else "there is no such folder"
                raise TimelineError(str(folder), got, hint="name the folder of the media")
        for path in _files(folders or (beside,), without):
            self._by_name.setdefault(folded(path.name), []).append(path)
            self._by_stem.setdefault(folded(path.stem), []).append(path)

    def of(self, event: Event) -> Path:
        """The file of an event.

        Raises :class:`TimelineError` where none has any of its names, or more than one has the same.
        """
        where = f"event {event.label} ({event.name})"
        for said in event.media:
            text = _path_text(said)
            path = self._beside / text
            if path.is_file():
                return path
            name = folded(text.replace("\\", "/").rstrip("/").rpartition("/")[2])
            found = self._by_name.get(name) or self._by_stem.get(name) or []
            if len(found) > 1:
                both = " and ".join(str(p) for p in found[:2])
                raise TimelineError(where, f"more than one file is called {said}: {both}", "one", "narrow --media")
            if found:
                return found[0]
        names = ", ".join(event.media[:4]) or "nothing"
        raise TimelineError(where, f"no file for it was found (it names {names})", hint="name its folder with --media")


def _path_text(said: str) -> str:
    """A path or a ``file:`` address as a path of this system."""
    said = said.replace("\0", "")
    if not said.lower().startswith("file:"):
        return said
    text = unquote(urlsplit(said).path)
    return text.lstrip("/") if re.match(r"/[A-Za-z]:", text) else text


def _files(folders: Iterable[Path], without: Path | None) -> Iterator[Path]:
    """Every clip and still below the folders, each once; hidden ones and links to folders left out."""
    seen: set[str] = set()
    left = None if without is None else os.path.realpath(without)
    for top in folders:
        for folder, inner, names in os.walk(top):
            if os.path.realpath(folder) == left or _RESULT in names:
                inner.clear()
                continue
            inner[:] = sorted(n for n in inner if not n.startswith("."))
            for name in sorted(names):
                path = Path(folder, name)
                key = os.path.normcase(os.path.abspath(path))
                if key in seen or not is_shot(path):
                    continue
                seen.add(key)
                if len(seen) > MOST_FILES:
                    raise TimelineError(str(top), f"has more than {MOST_FILES} files below it", "the folder of media")
                yield path
