"""Files dropped on the page: copied into a folder of this session, read by our own readers, and gone with the session.

The browser gives bytes and a name, never a path. The name is only a label: it is made fit for any system, and the copy
lies in a folder that nobody else can read. A file that our reader refuses is removed at once.
"""

from __future__ import annotations

import contextlib
import shutil
import tempfile
import threading
from collections.abc import AsyncIterator
from pathlib import Path

from lookwright.errors import LookwrightError, PictureError
from lookwright.names import portable
from lookwright.pictures.stills import read

from .security import MOST_DROPPED

MOST_FILE = MOST_DROPPED
"""Bytes of one file: a 16-bit picture of 40 megapixels, uncompressed, or a short clip."""
MOST_ALL = 2_000_000_000
"""Bytes of all of a session."""
MOST_FILES = 64
CLIPS = (".mp4", ".mov")


class Dropped:
    """The folder of one session, made when the first file comes."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._lock = threading.Lock()
        self._bytes = self._files = self._coming = 0

    async def take(self, name: str, content: AsyncIterator[bytes]) -> Path:
        """Copy one file in; where it lies, not yet looked into.

        Raises :class:`LookwrightError` when it is too large, or one too many; nothing is then left of it.
        """
        path = self._place(name)
        size = 0
        try:
            with path.open("xb") as file:
                async for part in content:
                    size += len(part)
                    self._room(size)
                    file.write(part)
            with self._lock:
                self._bytes += size
            return path
        except BaseException:  # also a page that went away
            self.drop(path)
            raise

    def drop(self, path: Path, size: int = 0) -> None:
        """Take a file out again."""
        with contextlib.suppress(OSError):
            path.unlink()
        with contextlib.suppress(OSError):
            path.parent.rmdir()
        with self._lock:
            self._files -= 1
            self._bytes -= size

    def still(self, path: Path) -> Path:
        """The same file, once our reader has read it whole; otherwise it is removed and the reader's fault raised."""
        size = path.stat().st_size
        try:
            read(path)
        except LookwrightError as exc:
            self.drop(path, size)
            raise PictureError(path.name, exc.got, exc.expected, exc.hint) from None  # not where it lay
        return path

    def close(self) -> None:
        """Remove the folder with all that is in it."""
        with self._lock:
            folder, self._folder = self._folder, None
        if folder is not None:
            shutil.rmtree(folder, ignore_errors=True)

    def _place(self, name: str) -> Path:
        """A new empty place with this name, each in a folder of its own, so that no two can meet."""
        label = portable(Path(name.replace("\\", "/")).name, 120) or "dropped"
        with self._lock:
            if self._files >= MOST_FILES:
                raise LookwrightError(label, f"{MOST_FILES} files were dropped already", hint="name the rest at start")
            self._files += 1
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="lookwright-bench-"))  # 0700
            return Path(tempfile.mkdtemp(dir=self._folder)) / label.lstrip(".")

    def _room(self, size: int) -> None:
        if size > MOST_FILE:
            raise LookwrightError("dropped file", "is too large", f"at most {MOST_FILE // 1_000_000} MB")
        if self._bytes + size > MOST_ALL:
            raise LookwrightError("dropped files", "are too many", f"at most {MOST_ALL // 1_000_000} MB in a session")
