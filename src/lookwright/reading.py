"""Opening files of the user's: one rule for stills, clips, looks, LUTs, marks, ledgers and manifests.

Only a regular file is read, through whatever links lead to it. A pipe would be waited for without end, and a device has
no end or does something when it is opened; so both are refused, and opening itself never waits.
"""

from __future__ import annotations

import errno
import os
import stat
from io import BufferedReader

from .errors import LookwrightError

_REASONS = {
    errno.ENOENT: "no such file",
    errno.EACCES: "no permission to read it",
    errno.EPERM: "no permission to read it",
    errno.ENOTDIR: "a part of the path is a file, not a folder",
    errno.ENAMETOOLONG: "the name is too long for this file system",
    errno.ELOOP: "its links point in a circle",
}


NO_LOOK = "'lookwright new FILE' writes a look to start from"
"""What to do about a look file that is not there."""


class NotAFile(OSError):
    """What is there is no regular file."""


def open_regular(path: os.PathLike[str] | str) -> BufferedReader:
    """Open a regular file for reading, without ever waiting.

    Raises :class:`NotAFile` for a folder (``errno`` EISDIR), a pipe, a socket or a device; other ``OSError`` as
    ``open``; ``ValueError`` for a name with a null character.
    """
    # O_NONBLOCK: opening a pipe must not wait for its other end. O_NOCTTY: a terminal must not become ours.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0) | getattr(os, "O_CLOEXEC", 0)
    # Asked first, because opening some devices is enough to set something off; and again of what was opened.
    _demand_regular(os.stat(path))
    handle = os.open(path, flags | getattr(os, "O_BINARY", 0))
    try:
        _demand_regular(os.fstat(handle))
        return open(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def _demand_regular(found: os.stat_result) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise NotAFile(errno.EISDIR, "this is a folder, not a file")
    if not stat.S_ISREG(found.st_mode):
        raise NotAFile(errno.EINVAL, "this is a pipe or device, not a file")


def reason(exc: OSError | ValueError, kind: str = "a file") -> str:
    """Why a file could not be read, in words; ``kind`` says what was expected, with its article."""
    if isinstance(exc, NotAFile):
        return str(exc.strerror).replace("a file", kind)
    if isinstance(exc, OSError):
        return _REASONS.get(exc.errno or 0, exc.strerror or "cannot be read")
    return "the name holds a null character"


def opened(
    path: os.PathLike[str] | str, kind: str, fault: type[LookwrightError], missing: str = "", folder: str = ""
) -> BufferedReader:
    """:func:`open_regular` whose refusals are one clear line.

    Parameters
    ----------
    path
        The file.
    kind
        What it should be, with its article: ``a look file``.
    fault
        The error to raise.
    missing, folder
        What to do when there is no such file, or when it is a folder.
    """
    try:
        return open_regular(path)
    except (OSError, ValueError) as exc:
        hint = missing if isinstance(exc, FileNotFoundError) else ""
        if isinstance(exc, NotAFile) and exc.errno == errno.EISDIR:
            hint = folder
        raise fault(str(path), reason(exc, kind), hint=hint) from None


def read_bytes(
    path: os.PathLike[str] | str,
    most: int,
    kind: str,
    fault: type[LookwrightError],
    missing: str = "",
    folder: str = "",
) -> bytes:
    """All bytes of a regular file of at most ``most`` bytes; see :func:`opened` for the rest.

    Raises
    ------
    LookwrightError
        As ``fault``: no such file, no regular file, a larger one, or one that cannot be read.
    """
    with opened(path, kind, fault, missing, folder) as file:
        try:
            data = file.read(most + 1)
        except OSError as exc:
            raise fault(str(path), reason(exc, kind)) from None
    if data is None:  # what the system offers as a file, but has nothing to give yet
        raise fault(str(path), f"nothing can be read from it now, as from {kind}")
    if len(data) > most:
        raise fault(str(path), f"too large for {kind}", f"at most {most // 1_000_000} MB")
    return data
