"""A short clip on the bench: some of its frames, small and in memory, to be played through the look by the page."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.errors import LookwrightError, PictureError
from lookwright.pictures.clips.read import Clip, all_frames, read_clip

from .codes import Codes, codes
from .pictures import narrower, smaller

MOST_FRAMES = 120
"""Of one clip: five seconds at 24 a second."""
MOST_BYTES = 200_000_000
"""Of the frames together; they are made smaller until that holds."""
MOST_WIDTH = 960


class Footage:
    """The clips of one session, and the frames of the one that was asked for last.

    Parameters
    ----------
    told
        Called with what there is of the clip, from the thread that reads it.
    reading
        What a file says of itself as a clip, with what the command line says in place of its tags.
    """

    def __init__(
        self,
        paths: list[Path],
        told: Callable[[dict[str, Any]], None],
        reading: Callable[[Path], Clip] = read_clip,
    ) -> None:
        self.paths, self._reading = list(paths), reading
        self._told = told
        self._lock = threading.Lock()
        self._frames: list[Codes] = []
        self._turn = 0
        self._about: dict[str, Any] = {"state": "none"}

    def names(self) -> list[str]:
        """Names of the clips."""
        return [p.name for p in self.paths]

    def add(self, path: Path) -> int:
        """One more clip; its number. Raises :class:`PictureError` for what is no clip that can be read."""
        self._reading(path)
        self.paths.append(path)
        return len(self.paths) - 1

    def about(self) -> dict[str, Any]:
        """What there is of the clip that was asked for last."""
        with self._lock:
            return dict(self._about)

    def open(self, index: int, first: float, legal: bool) -> dict[str, Any]:
        """Begin to read a clip from ``first`` seconds on; frames of another are let go.

        ``legal`` keeps the codes of a legal-range clip as they are, for a look that is fed legal range.
        """
        if not 0 <= index < len(self.paths):
            raise PictureError("clip", f"number {index + 1}", f"1 to {len(self.paths)}")
        clip = self._reading(self.paths[index])
        width, height = _fitting(clip)
        with self._lock:
            self._turn += 1
            mine = self._turn
            self._frames = []
            self._about = {
                "state": "reading",
                "clip": index,
                "name": clip.path.name,
                "rate": float(clip.rate),
                "seconds": clip.seconds,
                "first": first,
                "width": width,
                "height": height,
                "of": [clip.width, clip.height],
                "count": 0,
                "most": MOST_FRAMES,
                "notes": list(clip.notes),
            }
            about = dict(self._about)
        threading.Thread(target=self._read, args=(mine, clip, first, legal), name="bench-clip", daemon=True).start()
        return about

    def frame(self, number: int) -> Codes:
        """(height, width, 3) 16-bit codes of one frame that was read.

        Raises :class:`PictureError` for one that is not there.
        """
        with self._lock:
            if 0 <= number < len(self._frames):
                return self._frames[number]
        raise PictureError("clip", f"frame {number + 1} is not read")

    def close(self) -> None:
        """Let all frames go."""
        with self._lock:
            self._turn += 1
            self._frames = []

    def _read(self, mine: int, clip: Clip, first: float, legal: bool) -> None:
        levels = "keep" if legal else "expand"
        try:
            for frame in all_frames(clip, first, levels=levels):  # type: ignore[arg-type]  # one of two words
                small = frame.pixels
                height, width = small.shape[:2]
                small = smaller(small, *narrower(width, height, self._about["width"]))
                if not self._keep(mine, codes(np.clip(small, 0.0, 1.0))):
                    break
        except LookwrightError as exc:
            self._tell(mine, state="failed" if not self._frames else "ready", fault=exc.line())
            return
        self._tell(mine, state="ready")

    def _keep(self, mine: int, frame: Codes) -> bool:
        with self._lock:
            if mine != self._turn:
                return False
            self._frames.append(frame)
            count = len(self._frames)
            # Turned frames have their sides changed.
            self._about.update(count=count, width=frame.shape[1], height=frame.shape[0])
        if count % 8 == 1:
            self._tell(mine)
        return count < MOST_FRAMES

    def _tell(self, mine: int, **more: Any) -> None:
        with self._lock:
            if mine != self._turn:
                return
            self._about.update(more)
            about = dict(self._about)
        self._told(about)


def _fitting(clip: Clip) -> tuple[int, int]:
    """The size at which all frames have room."""
    most = MOST_BYTES / (6.0 * MOST_FRAMES)
    width = min(MOST_WIDTH, clip.width, int((most * clip.width / clip.height) ** 0.5))
    return narrower(clip.width, clip.height, max(2, width))
