"""Many tasks: all cores, memory that does not grow, faults kept apart, and a start where a kill left off."""

from __future__ import annotations

import contextlib
import errno
import functools
import hashlib
import json
import os
import stat
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from lookwright import errors, system
from lookwright.errors import LookwrightError
from lookwright.installed import how_to_get
from lookwright.reading import open_regular

T = TypeVar("T")
R = TypeVar("R")
LEDGER = ".lookwright-done.jsonl"
UNFINISHED = ".writing-"
"""How ``files.replacing`` names what is not complete yet."""
_LONGEST_LINE = 10_000
"""Bytes of one line of a ledger: a file name has 255 at most."""


@dataclass(frozen=True)
class Outcome(Generic[T]):
    """One task ended: its result, or the fault that stopped it."""

    task: T
    fault: LookwrightError | None = None


class Ledger:
    """What a folder already holds, one JSON line per finished output, appended as each is done.

    An output counts as done when its line names the same key (see :func:`key_of`) and the file there still has the
    bytes that were written. A line cut short by a kill, or spoiled otherwise, is ignored; so is the whole file when it
    cannot be read. What stands under the ledger's name but is no plain file of this folder (a pipe, a link, a second
    name of another file) is neither read nor written.
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / LEDGER
        self._done: dict[str, tuple[str, int, str]] = {}
        self._lock = -1
        self._cut = ""
        with contextlib.suppress(OSError), open(_own_file(self.path, os.O_RDONLY), "rb") as handle:
            line = b"\n"
            while line := handle.readline(_LONGEST_LINE):
                self._cut = "" if line.endswith(b"\n") else "\n"
                with contextlib.suppress(ValueError, KeyError, TypeError, RecursionError, OverflowError):
                    entry = json.loads(line)
                    self._done[str(entry["output"])] = (str(entry["key"]), int(entry["size"]), str(entry["sha256"]))

    def tidy(self, suffix: str) -> None:
        """Remove half-written files that a killed run left, unless another run works in this folder now.

        The lock lasts as long as this object.
        """
        try:
            self._lock = _own_file(self.path, os.O_CREAT | os.O_RDWR)
        except OSError:
            return
        if not system.take_lock(self._lock):
            return
        for left in self.path.parent.glob(f"{UNFINISHED}*{suffix}"):
            with contextlib.suppress(OSError):
                left.unlink()

    def __del__(self) -> None:
        if self._lock >= 0:
            os.close(self._lock)

    def has(self, output: Path, key: str) -> bool:
        """Whether ``output`` is there as ``key`` would make it."""
        known = self._done.get(output.name)
        if known is None or known[0] != key:
            return False
        try:
            return output.stat().st_size == known[1] and _digest(output) == known[2]
        except OSError:
            return False

    def add(self, output: Path, key: str) -> None:
        """Note a finished output. A ledger that cannot be written only costs the work at the next start."""
        with contextlib.suppress(OSError):
            size, digest = output.stat().st_size, _digest(output)
            self._done[output.name] = (key, size, digest)
            line = json.dumps({"output": output.name, "key": key, "size": size, "sha256": digest}) + "\n"
            with open(_own_file(self.path, os.O_WRONLY | os.O_APPEND | os.O_CREAT), "a", encoding="utf-8") as handle:
                handle.write(self._cut + line)
                self._cut = ""


def _own_file(path: Path, flags: int) -> int:
    """Open a plain file that has this name only; :class:`OSError` for anything else under it."""
    more = (getattr(os, name, 0) for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY"))
    handle = os.open(path, functools.reduce(int.__or__, more, flags), 0o666)
    found = os.fstat(handle)
    if not stat.S_ISREG(found.st_mode) or found.st_nlink != 1:
        os.close(handle)
        raise OSError(errno.EINVAL, "not a plain file")
    return handle


def _digest(path: Path) -> str:
    with open_regular(path) as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def key_of(source: Path, *parts: object) -> str:
    """SHA-256 over the bytes of a source file and whatever else decides its output.

    Raises :class:`OSError` when the file cannot be read, or is none: a pipe would be waited for without end.
    """
    digest = hashlib.sha256(json.dumps([str(p) for p in parts]).encode("utf-8"))
    with open_regular(source) as handle:
        while block := handle.read(1 << 20):
            digest.update(block)
    return digest.hexdigest()


def side_by_side(tasks: Iterable[T], work: Callable[[T], R], workers: int | None = None) -> Iterator[R]:
    """What ``work`` makes of every task, in their order, as many at a time as there are cores.

    No more are begun than are being worked on or waited for, so few results are held. A fault is raised where its
    result would have come; then, and when this is closed, nothing more is begun.
    """
    count = workers or os.cpu_count() or 1
    waiting: deque[Future[R]] = deque()
    with ThreadPoolExecutor(count) as pool:
        try:
            for task in tasks:
                waiting.append(pool.submit(work, task))
                if len(waiting) >= count:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()


def run_local(tasks: Iterable[T], work: Callable[[T], Any], workers: int | None = None) -> Iterator[Outcome[T]]:
    """Do ``work`` on every task over threads; outcomes in the order they end.

    The heavy parts (decoding, the lattice, encoding) run outside the interpreter's lock, so threads fill all cores
    while pictures need not be copied between processes. At most two tasks a worker are taken from ``tasks`` ahead of
    time, so memory does not grow with their number. A :class:`LookwrightError` ends its own task only; anything else
    ends the run.
    """
    # One more than cores: while one thread waits for the disk, the cores stay busy.
    count = workers or (os.cpu_count() or 1) + 1
    pending: dict[Future[Any], T] = {}
    with ThreadPoolExecutor(count) as pool:
        try:
            for task in tasks:
                pending[pool.submit(work, task)] = task
                if len(pending) >= 2 * count:
                    yield from _finished(pending)
            while pending:
                yield from _finished(pending)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _finished(pending: dict[Future[Any], T]) -> Iterator[Outcome[T]]:
    done, _ = wait(pending, return_when=FIRST_COMPLETED)
    for future in done:
        task = pending.pop(future)
        try:
            future.result()
        except LookwrightError as exc:
            yield Outcome(task, exc)
        else:
            yield Outcome(task)


def run_cluster(tasks: Iterable[T], work: Callable[[T], Any], address: str, ahead: int = 64) -> Iterator[Outcome[T]]:
    """The same on the workers of an existing Dask scheduler (extra ``cluster``).

    Every worker must see the same files under the same paths and have this program installed. ``ahead`` tasks are
    sent before the first must have come back.

    Raises :class:`LookwrightError` when the extra is not installed or the scheduler does not answer.
    """
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise LookwrightError(
            "--scheduler",
            "the extra 'cluster' is not installed",
            hint=how_to_get("cluster"),
        ) from None
    try:
        client = Client(address, timeout=10, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as exc:
        raise LookwrightError(
            f"--scheduler {address}", "does not answer", hint=f"is it running? ({type(exc).__name__})"
        ) from None
    with client:
        rest = iter(tasks)
        sent: dict[str, T] = {}
        running = as_completed(loop=client.loop)

        def send() -> bool:
            task = next(rest, None)
            if task is None:
                return False
            future = client.submit(_answer, work, task, pure=False, retries=2)
            sent[future.key] = task
            running.add(future)
            return True

        for _ in range(ahead):
            if not send():
                break
        for future in running:
            task = sent.pop(future.key)
            fault = future.exception()
            if fault is not None:
                yield Outcome(task, LookwrightError(f"a worker of {address}", f"{type(fault).__name__}: {fault}"))
            else:
                yield Outcome(task, _fault(future.result()))
            future.release()
            send()


def _answer(work: Callable[[T], Any], task: T) -> tuple[str, str, str, str, str] | None:
    """Do the work on a worker; a fault of the task travels as plain text, which any version of Python can carry."""
    try:
        work(task)
    except LookwrightError as exc:
        return type(exc).__name__, exc.where, exc.got, exc.expected, exc.hint
    return None


def _fault(answer: tuple[str, str, str, str, str] | None) -> LookwrightError | None:
    if answer is None:
        return None
    kind = getattr(errors, answer[0], LookwrightError)
    return LookwrightError(*answer[1:]) if kind is errors.RecipeErrors else kind(*answer[1:])
