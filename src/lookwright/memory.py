"""How much memory there is to take, and a way to wait for one's turn at it."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

SHARE = 0.8
"""Of what is free now, the part that may be taken: the rest is the room that other programs, and we elsewhere, need."""

_CGROUP = Path("/sys/fs/cgroup")


def available() -> int | None:
    """Bytes that can be taken without swapping, or None where the system does not tell.

    The least of: what the system holds to be available (Linux ``MemAvailable``, Windows ``ullAvailPhys``; elsewhere
    half of the memory there is), the limit of the control group this runs in, and the limit on the size of the process.
    """
    found = [n for n in (_of_system(), _of_group(), _of_process()) if n is not None]
    return max(0, min(found)) if found else None


def _of_system() -> int | None:
    with contextlib.suppress(OSError, ValueError), open("/proc/meminfo", encoding="ascii") as file:
        for line in file:
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) * 1024
    if sys.platform == "win32":
        return _of_windows()
    with contextlib.suppress(OSError, ValueError):
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2
    return None


def _of_windows() -> int | None:
    """``ullAvailPhys`` of ``GlobalMemoryStatusEx`` (Microsoft, sysinfoapi.h): two DWORD, then seven DWORDLONG."""
    import ctypes

    told = ctypes.create_string_buffer((64).to_bytes(4, "little"), 64)  # dwLength, to be set before the call
    with contextlib.suppress(OSError, AttributeError):
        if ctypes.windll.kernel32.GlobalMemoryStatusEx(told):  # type: ignore[attr-defined, unused-ignore]
            return int.from_bytes(told.raw[16:24], "little")
    return None


def _of_group() -> int | None:
    """Of control groups, version 2; pages of files that the group may give up count as free."""
    with contextlib.suppress(OSError, ValueError):
        name = Path("/proc/self/cgroup").read_text("ascii").rpartition("::")[2].strip().lstrip("/")
        for folder in (_CGROUP / name, _CGROUP):
            if not (folder / "memory.max").is_file():
                continue
            most = (folder / "memory.max").read_text("ascii").strip()
            if most == "max":
                continue
            files = next(
                (int(x.split()[1]) for x in (folder / "memory.stat").open(encoding="ascii") if x.startswith("file ")), 0
            )
            return int(most) - int((folder / "memory.current").read_text("ascii")) + files
    return None


def _of_process() -> int | None:
    if sys.platform == "win32":
        return None
    import resource

    with contextlib.suppress(OSError, ValueError):
        soft, _ = resource.getrlimit(resource.RLIMIT_AS)
        if soft != resource.RLIM_INFINITY:
            taken = int(Path("/proc/self/statm").read_text("ascii").split()[0]) * os.sysconf("SC_PAGE_SIZE")
            return soft - taken
    return None


def in_words(count: float) -> str:
    """``3.1 GB`` or ``240 MB``."""
    return f"{count / 1e9:.1f} GB" if count >= 0.95e9 else f"{count / 1e6:.0f} MB"


class Turns:
    """Work that takes much memory goes on side by side only as far as memory allows.

    What needs more than there is has its turn alone: whether that can be is for whoever takes the memory to say.
    """

    def __init__(self, most: int | None = None) -> None:
        free = available() if most is None else most
        self._most = None if free is None else int(free * (SHARE if most is None else 1.0))
        self._taken = 0
        self._change = threading.Condition()

    @contextlib.contextmanager
    def of(self, need: int) -> Iterator[None]:
        """Wait until ``need`` bytes can be taken beside what others hold; they are given back after the block."""
        with self._change:
            while self._most is not None and self._taken and self._taken + need > self._most:
                self._change.wait()
            self._taken += need
        try:
            yield
        finally:
            with self._change:
                self._taken -= need
                self._change.notify_all()
