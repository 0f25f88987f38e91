"""The processes beside the bench: one that checks what is there, one for a tuning or a delivery."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import Any

from .child import GRACE

if sys.platform == "win32":
    PRIORITY = subprocess.BELOW_NORMAL_PRIORITY_CLASS
else:
    PRIORITY = 0  # the child lowers it itself

Told = Callable[[dict[str, Any]], None]


class Helper:
    """One child process that does one thing at a time; started when first needed."""

    def __init__(self, told: Told) -> None:
        self._told = told
        self._lock = threading.RLock()
        self._process: subprocess.Popen[str] | None = None
        self._number = 0
        self._busy = False
        self._now: dict[str, Any] = {}
        self._next: dict[str, Any] | None = None
        self._spare = False
        """Whether what waits may be passed over."""
        self._closed = False

    @property
    def busy(self) -> bool:
        """Whether it is at work."""
        return self._busy

    def ask(self, work: dict[str, Any], spare: bool = False) -> None:
        """Do this now, or when the present work is done; of several waiting only the newest is done. ``spare`` work
        takes the place of nothing but other spare work. What is told of it has it with it, as ``asked``."""
        with self._lock:
            if self._closed:
                return
            if not self._busy:
                self._send(work)
            elif not spare or self._next is None or self._spare:
                self._next, self._spare = work, spare

    def stop(self) -> bool:
        """Want no more of the present work; whether there was any. It leaves nothing half-written behind."""
        return self._stop()[0]

    def close(self) -> None:
        """Stop for good, and wait until its process has ended."""
        with self._lock:
            self._closed = True
            _, watch = self._stop()
        if watch is not None:
            watch.join(GRACE + 9.0)

    def _stop(self) -> tuple[bool, threading.Thread | None]:
        with self._lock:
            was, self._busy, self._next = self._busy, False, None
            self._number += 1  # what the old process still says is for nobody
            return was, self._end()

    def _send(self, work: dict[str, Any]) -> None:
        if self._process is None or self._process.poll() is not None:
            # A list of arguments, no shell; -P keeps the working folder out of the imports.
            command = [sys.executable, "-P", "-m", "lookwright.app.bench.child"]
            self._process = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                encoding="utf-8",
                creationflags=PRIORITY,
            )
            threading.Thread(target=self._listen, args=(self._process,), daemon=True).start()
        self._number += 1
        self._busy, self._now = True, work
        assert self._process.stdin is not None
        with contextlib.suppress(OSError):
            self._process.stdin.write(json.dumps({"number": self._number, **work}) + "\n")
            self._process.stdin.flush()

    def _listen(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        for line in process.stdout:
            try:
                message = json.loads(line)
            except ValueError:
                continue
            with self._lock:
                if message.get("number") != self._number:
                    continue
                message["asked"] = self._now
                if "done" in message or "fault" in message:
                    self._follow()
            self._told(message)
        process.stdout.close()
        with self._lock:
            lost, asked = self._busy and process is self._process, self._now
            if lost:
                self._end()
                self._follow()  # in another process
        if lost:
            self._told({"fault": "the work stopped without a result", "asked": asked})

    def _follow(self) -> None:
        """The present work is over: begin what waits."""
        self._busy = False
        if self._next is not None:
            following, self._next = self._next, None
            self._send(following)

    def _end(self) -> threading.Thread | None:
        """Let the present process go; what watches that it ends, or None where there is none."""
        process, self._process = self._process, None
        if process is None:
            return None
        watch = threading.Thread(target=_let_go, args=(process,), daemon=True)
        watch.start()
        return watch


def _let_go(process: subprocess.Popen[str]) -> None:
    """Close the pipe to a process, which then leaves its work tidily; kill it where that takes too long."""
    with contextlib.suppress(OSError):
        if process.stdin is not None:
            process.stdin.close()
    with contextlib.suppress(OSError, subprocess.TimeoutExpired):
        process.wait(timeout=GRACE + 3.0)
    with contextlib.suppress(OSError):
        process.kill()
    with contextlib.suppress(OSError, subprocess.TimeoutExpired):
        process.wait(timeout=5)
