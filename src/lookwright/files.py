"""Writing without leaving anything half-written.

Every output of the program goes through :func:`replacing`: the bytes are
written to a temporary file beside the target, flushed to disk, and renamed over
the target only when complete. A kill at any moment leaves the earlier file
whole (POSIX ``rename`` is atomic within a folder; on Windows a reader that has
the file open keeps it, and is waited for, see :func:`put_in_place`).
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from . import system
from .errors import OutputError
from .names import LONGEST_PATH

_REASONS = {
    errno.ENOSPC: ("the disk is full", "free some space, or write elsewhere"),
    errno.EDQUOT: ("the disk quota is used up", "free some space, or write elsewhere"),
    errno.EACCES: ("no permission to write here", "choose a folder you may write to"),
    errno.EPERM: ("no permission to write here", "choose a folder you may write to"),
    errno.EROFS: ("the folder is read-only", "choose a folder you may write to"),
    errno.ENOENT: ("the folder does not exist", "create it first, or name another"),
    errno.ENOTDIR: ("a part of the path is a file, not a folder", "choose another place"),
    errno.EISDIR: ("this is a folder, not a file", "name a file"),
    errno.ENAMETOOLONG: ("the name is too long for this file system", "choose a shorter name"),
    errno.EEXIST: ("a file is in the way", "choose another place"),
}


_unfinished: set[tuple[Path, str]] = set()
"""Folder and first letters of the name of each temporary file or folder that there is, or is about to be."""


def note_unfinished(folder: Path) -> tuple[Path, str]:
    """Say that something temporary will be in ``folder``; gives the folder and the letters its name must begin with.

    Noted before it exists, so that there is no moment at which it could be left behind.
    """
    noted = (folder, f".writing-{os.urandom(4).hex()}-")
    _unfinished.add(noted)
    return noted


def forget_unfinished(noted: tuple[Path, str]) -> None:
    """It is no longer there."""
    _unfinished.discard(noted)


def remove_unfinished(patience: float = 0.0) -> None:
    """Remove what is temporary of this process: for one that a signal ends, which may strike in mid-tidying.

    Where a file that a thread still writes cannot be removed (Windows), it is tried again for ``patience`` seconds.
    """
    end = time.monotonic() + patience
    while _removed_unfinished() and time.monotonic() < end:
        time.sleep(0.05)


def _removed_unfinished() -> bool:
    """Try once; whether something is still there."""
    left = False
    for folder, start in list(_unfinished):
        with contextlib.suppress(OSError):
            for path in folder.iterdir():
                if not path.name.startswith(start):
                    continue
                with contextlib.suppress(OSError):
                    if path.is_dir() and not path.is_symlink():
                        shutil.rmtree(path, ignore_errors=True)
                    else:
                        path.unlink()
                left = left or os.path.lexists(path)
    return left


@contextlib.contextmanager
def _temporary(target: Path) -> Iterator[Path]:
    """A new file beside ``target`` with its suffix, by which picture and LUT writers choose their format."""
    noted = note_unfinished(target.parent)
    try:
        handle, name = tempfile.mkstemp(prefix=noted[1], suffix=target.suffix, dir=target.parent)
        try:
            os.close(handle)
            yield Path(name)
        finally:
            with contextlib.suppress(OSError):
                os.unlink(name)
    except Exception:  # not what a signal raises: that may have struck within the tidying above
        forget_unfinished(noted)
        raise
    forget_unfinished(noted)


def demand_text(path: os.PathLike[str] | str) -> None:
    """Raise :class:`OutputError` for a name with bytes that are no UTF-8, which some libraries cannot open."""
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError:
        raise OutputError(str(path), "the name is not valid UTF-8", hint="choose another name") from None


def nowhere() -> bool:
    """Whether the folder that the program was started in was deleted since."""
    try:
        os.getcwd()
    except FileNotFoundError:
        return True
    return False


def output_error(path: os.PathLike[str] | str, exc: OSError) -> OutputError:
    """Turn an operating-system error on ``path`` into one clear line."""
    if exc.errno == errno.ENOENT and nowhere():
        return OutputError(str(path), "the folder this was started in is no longer there", hint="go to another one")
    got, hint = _REASONS.get(exc.errno or 0, (exc.strerror or str(exc) or "cannot be written", ""))
    if system.WINDOWS and exc.errno == errno.ENOENT and len(os.path.abspath(path)) > LONGEST_PATH:
        got, hint = f"the path is longer than the {LONGEST_PATH} characters of Windows", "choose a shorter path"
    return OutputError(str(path), got, hint=hint)


def make_folder(path: os.PathLike[str] | str) -> Path:
    """Create ``path`` and its parents; raise :class:`OutputError` when that cannot be done."""
    try:
        Path(path).mkdir(parents=True, exist_ok=True)
    except OSError as exc:
        raise output_error(path, exc) from None
    return Path(path)


@contextlib.contextmanager
def new_folder(path: os.PathLike[str] | str) -> Iterator[Path]:
    """:func:`make_folder` for the time of the block; when that fails, folders made here and still empty go again."""
    path = Path(path)
    made = [p for p in (path, *path.parents) if not os.path.lexists(p)]
    try:
        yield make_folder(path)
    except BaseException:
        with contextlib.suppress(OSError):
            for folder in made:
                folder.rmdir()
        raise


def check_new(path: Path, force: bool) -> None:
    """Raise :class:`OutputError` for something that is there already, unless ``force``."""
    if os.path.lexists(path) and not force:
        raise OutputError(str(path), "already exists", hint="choose another name, or give --force")


def check_target(target: os.PathLike[str] | str) -> None:
    """Raise :class:`OutputError` when ``target`` could not be written now; for use before long work.

    Tries with a file in the same folder, since permissions alone do not tell (read-only mounts).
    """
    target = Path(target)
    try:
        with contextlib.suppress(FileNotFoundError):
            if stat.S_ISDIR(os.stat(target).st_mode):
                raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        with _temporary(target):
            pass
    except OSError as exc:
        raise output_error(target, exc) from None


@contextlib.contextmanager
def replacing(target: os.PathLike[str] | str) -> Iterator[Path]:
    """Give a temporary path with the target's suffix; rename it over ``target`` on success.

    On any exception the temporary file is removed and the target is untouched.
    Raises :class:`OutputError` for what the operating system refuses.
    """
    target = Path(target)
    try:
        if target.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        with _temporary(target) as temporary:
            yield temporary
            settle(temporary)
            # mkstemp makes files private; give the mode a plain open() would have given.
            mask = os.umask(0)
            os.umask(mask)
            os.chmod(temporary, 0o666 & ~mask)
            put_in_place(temporary, target)
    except OSError as exc:
        raise output_error(target, exc) from None


def settle(written: Path) -> None:
    """See a finished file to the disk. Opened for writing, though nothing is written: Windows refuses it otherwise."""
    with open(written, "r+b") as file:
        os.fsync(file.fileno())


_TRIES = 20
_BETWEEN = 0.05
"""Seconds between two tries: scanners and indexers look at a new file for a moment, a person at an old one for long."""


def put_in_place(written: Path, target: Path) -> None:
    """Rename ``written`` over ``target``.

    Raises ``OSError`` as ``os.replace``; :class:`OutputError` where the system replaces no file that is open, and this
    one stays so for a second.
    """
    for left in reversed(range(1 if system.REPLACES_OPEN_FILES else _TRIES)):
        try:
            os.replace(written, target)
        except PermissionError:
            if left:
                time.sleep(_BETWEEN)
            elif system.REPLACES_OPEN_FILES or not os.path.lexists(target):
                raise
            else:
                hint = "close it there, or write elsewhere"
                raise OutputError(str(target), "open in another program, or read-only", hint=hint) from None
        else:
            return


def write_text(target: os.PathLike[str] | str, text: str) -> None:
    """Write UTF-8 text with LF line ends, whole or not at all."""
    write_bytes(target, text.encode("utf-8"))


def write_bytes(target: os.PathLike[str] | str, data: bytes) -> None:
    """Write bytes, whole or not at all."""
    with replacing(target) as temporary:
        temporary.write_bytes(data)
