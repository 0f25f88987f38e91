"""Makes this process behave like another system, as far as Python's own handling of files, signals and streams goes.

Each behaviour is one of :data:`BEHAVIOURS`; ``with other_system("handles", "case", root=folder)`` has them hold for
the time of the block, those that concern names for what lies in ``root``. Libraries written in C open their files past
this: that they hold one open is seen (``/proc/self/fd``, ``/proc/self/maps``), how they find it is not.

What stands behind each is documented behaviour of Windows (Microsoft: CreateFile, its sharing modes and "Naming Files,
Paths, and Namespaces"; ``_commit`` and ``_locking`` of its C runtime) and of APFS as macOS formats it. That the real
systems do no more than this is not known: see tests/HOW_WE_KNOW.md.
"""

from __future__ import annotations

import builtins
import contextlib
import errno
import importlib.util
import io
import os
import shutil
import signal
import sys
import types
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

BEHAVIOURS = {
    "bare": "no fcntl, no O_CLOEXEC and its like, no nice, SIGHUP or fork; the program as Windows loads it",
    "handles": "fsync wants a handle for writing; what is open or mapped is neither renamed, replaced nor removed",
    "case": "names that differ in case or in the spelling of accents are one; the name first given is kept",
    "names": "devices and reserved characters refused; dots and spaces at the end are lost",
    "cp1252": "standard output and error in this code page, lines ended by CR LF",
    "cp437": "the same in this one",
}
CODE_PAGES = ("cp1252", "cp437")
WINDOWS = ("bare", "handles", "case", "names", "cp1252")
MACOS = ("case",)

try:
    import fcntl
except ImportError:  # this is Windows: the tests that use this are skipped
    fcntl = None  # type: ignore[assignment]
_open, _stat, _lstat, _listdir, _access = io.open, os.stat, os.lstat, os.listdir, os.access
_rename, _replace, _unlink, _fsync = os.rename, os.replace, os.unlink, os.fsync


class Patches:
    """Attributes and modules that are put back."""

    def __init__(self) -> None:
        self._back: list[Callable[[], object]] = []

    def set(self, where: Any, name: str, value: object) -> None:
        before = getattr(where, name)
        setattr(where, name, value)
        self._back.append(lambda: setattr(where, name, before))

    def remove(self, where: Any, name: str) -> None:
        if hasattr(where, name):
            before = getattr(where, name)
            delattr(where, name)
            self._back.append(lambda: setattr(where, name, before))

    def module(self, name: str, value: types.ModuleType | None) -> None:
        before = sys.modules.get(name)
        sys.modules[name] = value  # type: ignore[assignment]
        if before is None:
            self._back.append(lambda: sys.modules.pop(name, None))
        else:
            self._back.append(lambda: sys.modules.__setitem__(name, before))

    def undo(self) -> None:
        for back in reversed(self._back):
            back()


@contextlib.contextmanager
def other_system(*behaviours: str, root: Path) -> Iterator[Patches]:
    """This process as that system for the time of the block."""
    patches = Patches()
    try:
        install(patches, *behaviours, root=root)
        yield patches
    finally:
        patches.undo()


def install(patches: Patches, *behaviours: str, root: Path) -> None:
    """Put the behaviours in place."""
    unknown = set(behaviours) - set(BEHAVIOURS)
    if unknown:
        raise ValueError(f"no behaviour {unknown}")
    if "bare" in behaviours:
        _bare(patches)
    if "handles" in behaviours:
        _handles(patches)
    if "case" in behaviours or "names" in behaviours:
        _Folder(Path(os.path.realpath(root)), "case" in behaviours, "names" in behaviours).install(patches)


# bare


def msvcrt() -> types.ModuleType:
    """The part of that module which the program uses, on top of the locks there are here."""
    module = types.ModuleType("msvcrt")
    module.LK_NBLCK = 2  # type: ignore[attr-defined]

    def locking(handle: int, mode: int, count: int) -> None:
        # Others cannot read what is locked there, so the locked byte must be none of the file's.
        if os.lseek(handle, 0, os.SEEK_CUR) < os.fstat(handle).st_size or (mode, count) != (2, 1):
            raise AssertionError("a part of the file itself is locked")
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise PermissionError(errno.EACCES, "Permission denied") from None

    module.locking = locking  # type: ignore[attr-defined]
    return module


def _bare(patches: Patches) -> None:
    import lookwright.system

    only_now = Patches()  # whoever finds that module later takes this for Windows, the standard library first
    only_now.module("msvcrt", msvcrt())
    windows = as_windows("lookwright.system")
    only_now.undo()
    for name in ("WINDOWS", "REPLACES_OPEN_FILES", "take_lock", "lower_priority", "quoted"):
        patches.set(lookwright.system, name, getattr(windows, name))
    patches.module("fcntl", None)
    for name in ("O_CLOEXEC", "O_NOFOLLOW", "O_NONBLOCK", "O_NOCTTY", "nice", "fork", "forkpty"):
        patches.remove(os, name)
    patches.remove(signal, "SIGHUP")


def as_windows(name: str) -> types.ModuleType:
    """A module of the program loaded a second time, as Windows would."""
    found = importlib.util.find_spec(name)
    assert found is not None and found.loader is not None
    spec = importlib.util.spec_from_loader(name + "_windows", found.loader, origin=found.origin)
    assert spec is not None
    module = types.ModuleType(name + "_windows")
    module.__package__ = name.rpartition(".")[0]
    before, sys.platform = sys.platform, "win32"
    try:
        source = found.loader.get_source(name)  # type: ignore[attr-defined]
        sys.modules[module.__name__] = module
        exec(compile(source, found.origin or name, "exec"), module.__dict__)
    finally:
        sys.platform = before
        sys.modules.pop(module.__name__, None)
    return module


# handles


def _same(a: os.stat_result, b: os.stat_result) -> bool:
    return (a.st_dev, a.st_ino) == (b.st_dev, b.st_ino)


def held(path: Any) -> bool:
    """Whether this process has a handle on the file, or on a file in the folder, or has it mapped into memory."""
    try:
        found = _lstat(path)
    except OSError:
        return False
    inside = os.path.join(os.path.realpath(path), "")
    for number in _listdir("/proc/self/fd"):
        with contextlib.suppress(OSError):
            link = f"/proc/self/fd/{number}"
            if _same(_stat(link), found) or os.readlink(link).startswith(inside):
                return True
    with _open("/proc/self/maps", encoding="utf-8", errors="surrogateescape") as maps:
        inodes = {line.split(None, 5)[4] for line in maps}
    return str(found.st_ino) in inodes


def _refuse_held(*paths: Any) -> None:
    for path in paths:
        if held(path):
            raise PermissionError(errno.EACCES, "Permission denied", os.fspath(path))


def _handles(patches: Patches) -> None:
    import lookwright.system

    patches.set(lookwright.system, "REPLACES_OPEN_FILES", False)  # as the program knows it where it is so

    def fsync(handle: Any) -> None:
        number = handle if isinstance(handle, int) else handle.fileno()
        if fcntl.fcntl(number, fcntl.F_GETFL) & os.O_ACCMODE == os.O_RDONLY:
            raise OSError(errno.EBADF, "Bad file descriptor")
        _fsync(number)

    def rename(source: Any, target: Any, **more: Any) -> None:
        _refuse_held(source, target)
        if os.path.lexists(target) and not _same(_lstat(source), _lstat(target)):
            raise FileExistsError(errno.EEXIST, "File exists", os.fspath(source), None, os.fspath(target))
        _rename(source, target, **more)

    def replace(source: Any, target: Any, **more: Any) -> None:
        _refuse_held(source, target)
        if os.path.isdir(target):
            raise PermissionError(errno.EACCES, "Permission denied", os.fspath(target))
        _replace(source, target, **more)

    def unlink(path: Any, **more: Any) -> None:
        _refuse_held(path)
        _unlink(path, **more)

    patches.set(os, "fsync", fsync)
    patches.set(os, "rename", rename)
    patches.set(os, "replace", replace)
    patches.set(os, "unlink", unlink)
    patches.set(os, "remove", unlink)
    if hasattr(shutil, "_use_fd_functions"):  # Windows has no folders by handle
        patches.set(shutil, "_use_fd_functions", False)


# case and names


def _fold(name: str) -> str:
    return unicodedata.normalize("NFD", unicodedata.normalize("NFD", name).casefold())


_DEVICES = {
    "CON",
    "PRN",
    "AUX",
    "NUL",
    "CONIN$",
    "CONOUT$",
    *(f"{d}{n}" for d in ("COM", "LPT") for n in "123456789¹²³"),
}


class _Folder:
    """What Python asks of files below ``root``, with the name that is there in the place of the one that is asked."""

    ONE = (
        "stat",
        "lstat",
        "unlink",
        "remove",
        "mkdir",
        "rmdir",
        "listdir",
        "scandir",
        "access",
        "chmod",
        "utime",
        "open",
    )
    TWO = ("rename", "replace", "link")
    ASKING = ("stat", "lstat", "access", "listdir", "scandir")

    def __init__(self, root: Path, case: bool, names: bool) -> None:
        self._root, self._case, self._names = str(root), case, names

    def install(self, patches: Patches) -> None:
        for name in self.ONE:
            patches.set(os, name, self._one(getattr(os, name), name in self.ASKING))
        for name in self.TWO:
            patches.set(os, name, self._two(getattr(os, name)))
        patches.set(builtins, "open", self._one(builtins.open))
        patches.set(io, "open", self._one(io.open))

    def _one(self, work: Callable[..., Any], asking: bool = False) -> Callable[..., Any]:
        def called(path: Any = ".", *rest: Any, **more: Any) -> Any:
            return work(self.there(path, asking), *rest, **more)

        return called

    def _two(self, work: Callable[..., Any]) -> Callable[..., Any]:
        def called(source: Any, target: Any, **more: Any) -> Any:
            source, last = self.there(source), os.path.basename(os.fspath(target))
            target = self.there(target)
            if (
                self._case
                and os.path.lexists(target)
                and work.__name__ != "link"
                and _same(_lstat(source), _lstat(target))
            ):
                # The same file under another case: it gets the new name.
                return _rename(source, os.path.join(os.path.dirname(target), last))
            return work(source, target, **more)

        called.__name__ = work.__name__
        return called

    def there(self, path: Any, asking: bool = False) -> Any:
        """The name of the file as the folder has it; as given where there is none, or it lies elsewhere."""
        if isinstance(path, int) or not isinstance(text := os.fspath(path), str):
            return path
        real = os.path.abspath(text)
        if not real.startswith(self._root + os.sep):
            return path
        now = self._root
        for part in real[len(self._root) + 1 :].split(os.sep):
            now = os.path.join(now, self._part(now, part, asking))
        return now

    def _part(self, folder: str, part: str, asking: bool) -> str:
        if self._names:
            bad = part.split(".")[0].rstrip(" ").upper() in _DEVICES or any(
                c in '<>:"|?*\\' or ord(c) < 32 for c in part
            )
            if bad:
                code = errno.ENOENT if asking else errno.EINVAL
                raise OSError(code, os.strerror(code), os.path.join(folder, part))
            part = part.rstrip(". ") or part
        if self._case and not _exists(os.path.join(folder, part)):
            with contextlib.suppress(OSError):
                return next((name for name in _listdir(folder) if _fold(name) == _fold(part)), part)
        return part


def _exists(path: str) -> bool:
    try:
        _lstat(path)
    except OSError:
        return False
    return True


# streams


class Streams:
    """Standard output and error in a code page, strictly, as Python has them on a pipe there."""

    def __init__(self, encoding: str) -> None:
        self.encoding = encoding
        self._out, self._err = io.BytesIO(), io.BytesIO()

    def __enter__(self) -> Streams:
        self._before = sys.stdout, sys.stderr
        sys.stdout = io.TextIOWrapper(self._out, self.encoding, "strict", newline="\r\n", write_through=True)
        sys.stderr = io.TextIOWrapper(self._err, self.encoding, "backslashreplace", newline="\r\n", write_through=True)
        return self

    def __exit__(self, *exc: object) -> None:
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        # Kept open: whoever still has them may print.
        self._kept, (sys.stdout, sys.stderr) = (sys.stdout, sys.stderr), self._before

    @property
    def out(self) -> bytes:
        return self._out.getvalue()

    @property
    def err(self) -> bytes:
        return self._err.getvalue()
