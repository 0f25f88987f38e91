"""What a command may write over: nothing that it reads, nothing it writes a second time, nothing of another kind.

Asked before any work. Files are compared by identity (device and number), so links, hard links and, where the system
ignores it, case are seen through.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from . import system
from .errors import OutputError
from .names import folded, portable, why_not
from .reading import open_regular

Kind = Literal["look", "marks", "cube", "clf", "cdl", "picture", "drawing", "clip", "page", "json", "text"]

WORDS: dict[Kind, str] = {
    "look": "a look",
    "marks": "a marks file",
    "cube": "a .cube LUT",
    "clf": "a CLF",
    "cdl": "an ASC CDL",
    "picture": "a picture",
    "drawing": "a drawing",  # a plot or a sheet of plots: other than a photograph, though it may be a .png too
    "clip": "a clip",
    "page": "an HTML page",
    "json": "a JSON file",
    "text": "a file of another kind",
}

_HEAD = 1 << 20
"""Bytes looked at; a .cube states its size after the recipe that it carries, which is a page of text."""

_MAGIC: tuple[tuple[bytes, Kind], ...] = (
    (b"\x89PNG\r\n\x1a\n", "picture"),
    (b"\xff\xd8\xff", "picture"),
    (b"II*\0", "picture"),
    (b"MM\0*", "picture"),
    (b"II+\0", "picture"),
    (b"MM\0+", "picture"),
    (b"v/1\x01", "picture"),
    (b"SDPX", "picture"),
    (b"XPDS", "picture"),
    (b"GIF8", "picture"),
    (b"\x1a\x45\xdf\xa3", "clip"),
    (b"%PDF-", "drawing"),
)

_TEXT: tuple[tuple[re.Pattern[bytes], Kind], ...] = (
    (re.compile(rb"\A\s*(<!--.*?-->\s*)?(<!doctype html|<html)", re.IGNORECASE | re.DOTALL), "page"),
    (re.compile(rb"\A[^<]{0,8}(<\?xml[^>]*>)?\s*(<!.*?>\s*)*<svg\b", re.IGNORECASE | re.DOTALL), "drawing"),
    (re.compile(rb"<(\w+:)?ProcessList\b"), "clf"),
    (re.compile(rb"<(\w+:)?(ColorCorrection|ColorCorrectionCollection|ColorDecisionList)\b"), "cdl"),
    (re.compile(rb"^\s*LUT_[13]D_SIZE\s+\d", re.MULTILINE | re.IGNORECASE), "cube"),
    (re.compile(rb"^\s*(\[\[?\s*(step|source|output)\s*\]|(step|source|output)\s*=\s*[\[{])", re.MULTILINE), "look"),
    (re.compile(rb"^\s*box\s*=\s*\[", re.MULTILINE), "marks"),
    (re.compile(rb"\A\s*[\[{]\s*[\"{\[\]}]"), "json"),
)

_BY_NAME: dict[str, tuple[Kind, ...]] = {
    ".toml": ("look", "marks"),
    ".cube": ("cube",),
    ".clf": ("clf",),
    ".cc": ("cdl",),
    ".ccc": ("cdl",),
    ".cdl": ("cdl",),
    **dict.fromkeys(
        (".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff", ".dpx", ".exr", ".gif"), ("picture", "drawing")
    ),
    ".svg": ("drawing",),
    ".pdf": ("drawing",),
    ".mp4": ("clip",),
    ".mov": ("clip",),
    ".html": ("page",),
    ".json": ("json",),
}
"""What a name's ending tells where the content tells nothing."""

_OURS = re.compile(
    rb"^\s*(#|<!--|<meta|<desc|\"generator\"|\"made_by\").{0,200}lookwright", re.MULTILINE | re.IGNORECASE
)


@dataclass(frozen=True)
class Output:
    """One file that a command will write.

    Parameters
    ----------
    path
        Where.
    kind
        What it will hold.
    instead_of
        An input that it may take the place of, because that is what the command is for.
    """

    path: Path
    kind: Kind
    instead_of: Path | None = None


def check_outputs(inputs: Iterable[os.PathLike[str] | str], outputs: Iterable[Output]) -> None:
    """Refuse outputs that would destroy something; for use before any work.

    Parameters
    ----------
    inputs
        Every file that the command reads; names of none are passed over.
    outputs
        Every file that it will write, those within a folder one by one.

    Raises
    ------
    OutputError
        An output that is an input of the same command or another output of it; that is no regular file; or that is
        there and of another kind than the one to be written, by its content or else by its name, unless lookwright
        wrote it.
    """
    read: dict[tuple[int, int], Path] = {}
    for given in inputs:
        known = _identity(given)
        if known is not None:
            read.setdefault(known, Path(given))
    written: dict[tuple[int, int] | str, Path] = {}
    for output in outputs:
        path = output.path
        if system.WINDOWS:
            _check_name(path)
        one = _identity(path)
        if one is not None and one in read and not (output.instead_of and one == _identity(output.instead_of)):
            source = read[one]
            which = "is also read by this command" if _same_name(source, path) else f"is {source}, which is also read"
            raise OutputError(str(path), f"{which}, and would be written over", hint="choose another name or folder")
        for key in (one, _folded(path)):
            if key is not None and key in written:
                raise OutputError(
                    str(path),
                    f"is written twice by this command, as {written[key]} too",
                    hint="choose another name for one of them",
                )
        for key in (one, _folded(path)):
            if key is not None:
                written[key] = path
        if not (output.instead_of and one is not None and one == _identity(output.instead_of)):
            _check_there(output)


def _identity(path: os.PathLike[str] | str) -> tuple[int, int] | None:
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return None
    if not found.st_ino:  # some drives on Windows number no files: then all would be one
        return None
    return found.st_dev, found.st_ino


def _same_name(one: Path, other: Path) -> bool:
    return os.path.abspath(one) == os.path.abspath(other)


def _folded(path: Path) -> str:
    """Names that some system takes for one give one text."""
    real = os.path.realpath(path.parent)
    return real + "/" + folded(path.name)


def _check_name(path: Path) -> None:
    """Refuse what Windows would take for a device, for a stream within another file, or for another name."""
    for part in path.parts[1:] if path.anchor else path.parts:
        if why := why_not(part):
            raise OutputError(str(path), f"Windows cannot hold {part!r}: it {why}", hint=f"call it {portable(part)!r}")


def _check_there(output: Output) -> None:
    """Refuse to write over what is there, if it is no file or of another kind and not ours."""
    try:
        mode = os.stat(output.path).st_mode
    except (OSError, ValueError):
        return  # nothing there, or the writer will say what is wrong
    if stat.S_ISDIR(mode):
        raise OutputError(str(output.path), "this is a folder, not a file", hint="name a file")
    if not stat.S_ISREG(mode):
        raise OutputError(str(output.path), "this is a pipe or device, not a file", hint="name a file")
    if output.kind == "picture" and _begins_as_a_picture(output.path):
        return  # told from a few bytes, for a folder of thousands
    there, ours = kind_of(output.path)
    if there is None or there == output.kind or ours:
        return
    if there == "text" and output.kind in _BY_NAME.get(output.path.suffix.lower(), ()):
        return  # an earlier result, spoilt: its content tells of nothing else
    raise OutputError(
        str(output.path),
        f"is {WORDS[there]} that lookwright did not write, and {WORDS[output.kind]} would take its place",
        hint="choose another name, or move it away first",
    )


def _begins_as_a_picture(path: Path) -> bool:
    try:
        with open_regular(path) as file:
            head = file.read(16) or b""
    except (OSError, ValueError):
        return False
    return _by_magic(head) == "picture"


def _by_magic(data: bytes) -> Kind | None:
    """The kind of a binary file by its first 16 bytes; None for text and for what is not known."""
    if data[4:8] in (b"ftyp", b"moov", b"mdat", b"wide"):
        return "clip"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "picture"
    return next((kind for magic, kind in _MAGIC if data.startswith(magic)), None)


def holds(path: os.PathLike[str] | str, words: bytes) -> bool:
    """Whether a picture's notes have these words: near its beginning or its end, where formats keep them."""
    try:
        return any(words in part for part in _ends(path))
    except (OSError, ValueError):
        return False


def _ends(path: os.PathLike[str] | str) -> tuple[bytes, bytes]:
    with open_regular(path) as file:
        data = file.read(_HEAD) or b""
        size = os.fstat(file.fileno()).st_size
        file.seek(max(0, size - 65536))
        return data, file.read(65536) or b""


def kind_of(path: os.PathLike[str] | str) -> tuple[Kind | None, bool]:
    """What a file holds, by its content, and whether lookwright wrote it; None for one that is
    empty, all zeros or unreadable."""
    try:
        data, end = _ends(path)
    except (OSError, ValueError):
        return None, False
    if not data.strip(b"\0 \t\r\n"):  # nothing but zeros is what a power cut leaves
        return None, False
    kind = _by_magic(data)
    if kind is not None:  # pictures and clips name their software somewhere in their headers
        return kind, b"lookwright" in data or b"lookwright" in end
    kind = next((k for pattern, k in _TEXT if pattern.search(data)), "text")
    return kind, bool(_OURS.search(data))
