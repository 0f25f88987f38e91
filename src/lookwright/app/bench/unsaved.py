"""What is not saved, kept in a file beside the one it belongs to, so that no end of the bench can lose it.

``window.toml`` has ``window.toml.unsaved``: the text as saving would write it, put there whole after each edit and
taken away when there is nothing unsaved. A bench that starts and finds one offers it. While a bench lives it holds a
lock on its own file, so a second bench neither offers nor overwrites what the first is working on.
"""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

from lookwright import system
from lookwright.errors import LookwrightError
from lookwright.files import write_text
from lookwright.reading import open_regular, read_bytes

SUFFIX = ".unsaved"
MOST_BYTES = 10_000_000
MOST_FILES = 20
"""Of benches at once on one file, and of offers put off."""


class Unsaved:
    """The unsaved text that belongs to one file.

    Parameters
    ----------
    target
        The file that saving writes.
    saved
        Its present text: an offer of just that is none.
    now
        Gives the text that is to be kept; None when all is saved.
    """

    def __init__(self, target: Path, saved: str, now: Callable[[], str | None]) -> None:
        self._target, self._now = target, now
        self._lock = -1
        self._kept: str | None = None
        self.offered: Path | None = None
        """Where the newest offer lies, until it is answered."""
        self.offer = ""
        self.fault = ""
        """Why nothing can be kept here; empty while it can."""
        for path in self._names():
            text = _left_by_another(path)
            if text == saved:
                with contextlib.suppress(OSError):
                    path.unlink()
            elif text is not None and (self.offered is None or path.stat().st_mtime > self.offered.stat().st_mtime):
                self.offered, self.offer = path, text
        self.path = next((p for p in self._names() if not os.path.lexists(p)), None)

    def _names(self) -> list[Path]:
        name = self._target.name + SUFFIX
        return [self._target.with_name(name if n == 1 else f"{name}-{n}") for n in range(1, MOST_FILES + 1)]

    def keep(self) -> None:
        """Put the unsaved text on the disk. A folder that cannot be written is no fault."""
        text = self._now()
        if text == self._kept or self.path is None:
            return
        if not system.REPLACES_OPEN_FILES:
            self._release()  # for the moment of the rename: another bench that starts just then offers this text
        if text is None:
            with contextlib.suppress(OSError):
                self.path.unlink()
            self._release()
        else:
            try:
                write_text(self.path, text)
                self._hold()
                self.fault = ""
            except LookwrightError as exc:
                self.fault = exc.line()
                if self._lock < 0:
                    self._hold()  # again, what is there from before
        self._kept = text

    def answered(self, throw_away: bool) -> None:
        """The offer was taken or thrown away, and goes; or it stays for the next start."""
        if throw_away and self.offered is not None:
            with contextlib.suppress(OSError):
                self.offered.unlink()
        self.offered, self.offer = None, ""

    def close(self) -> Path | None:
        """Let go of the file; where it lies when there is something in it."""
        self._release()
        return self.path if self._kept is not None and not self.fault else None

    def _hold(self) -> None:
        assert self.path is not None
        before, self._lock = self._lock, -1
        with contextlib.suppress(OSError):
            self._lock = os.open(self.path, os.O_RDONLY | getattr(os, "O_CLOEXEC", 0))
            system.take_lock(self._lock)
        if before >= 0:
            os.close(before)

    def _release(self) -> None:
        if self._lock >= 0:
            os.close(self._lock)
            self._lock = -1


class Keeper:
    """Several of them, kept by a thread that nobody waits for."""

    def __init__(self, several: Sequence[Unsaved]) -> None:
        self._several = list(several)
        self._news, self._lock, self._closed = threading.Event(), threading.Lock(), False
        self._left: list[str] = []
        threading.Thread(target=self._work, name="bench-keep", daemon=True).start()

    def _work(self) -> None:
        while not self._closed:
            self._news.wait()
            self._news.clear()
            self.now()

    def soon(self) -> None:
        """Something was changed or saved."""
        self._news.set()

    def now(self) -> None:
        """The same, done when this returns."""
        with self._lock:
            if self._closed:
                return
            for unsaved in self._several:
                with contextlib.suppress(ValueError):  # the marks file became another kind of file meanwhile
                    unsaved.keep()

    def offered(self) -> list[str]:
        """Names of the files with work of an earlier session."""
        return [u.offered.name for u in self._several if u.offered is not None]

    def fault(self) -> str:
        """Why something cannot be kept; empty while all can."""
        return next((u.fault for u in self._several if u.fault), "")

    def answered(self, throw_away: bool) -> None:
        """The offers were taken or thrown away, or put off."""
        for unsaved in self._several:
            unsaved.answered(throw_away)

    def close(self) -> list[str]:
        """Keep what there is now, and end; the files that hold something."""
        self.now()
        with self._lock:
            if not self._closed:
                self._closed = True
                self._left = [str(p) for p in (u.close() for u in self._several) if p is not None]
        self._news.set()
        return self._left


def _left_by_another(path: Path) -> str | None:
    """The text of a file that no living bench holds."""
    if not os.path.lexists(path) or path.is_symlink():
        return None
    try:
        with open_regular(path) as file:
            if not system.take_lock(file.fileno()):
                return None
        return read_bytes(path, MOST_BYTES, "unsaved work", LookwrightError).decode("utf-8")
    except (OSError, LookwrightError, UnicodeDecodeError):
        return None
