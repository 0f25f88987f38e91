"""A folder that appears whole: built beside its place, then put there.

A new folder is renamed into place at once. Into a folder that exists, file by file is renamed over the earlier one, the
manifest last, so that at every moment each file is a whole one, earlier or later, and a manifest that does not match
the files tells of an interruption. Files of an earlier delivery that the new one lacks are taken away, if they are
still as its manifest says; anything else in the folder is left alone.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

from lookwright.errors import LookwrightError, OutputError
from lookwright.files import (
    demand_text,
    forget_unfinished,
    make_folder,
    note_unfinished,
    output_error,
    put_in_place,
    settle,
)
from lookwright.reading import open_regular, read_bytes

MANIFEST = "manifest.json"
_MOST_BYTES = 10_000_000


def sha256_of(path: Path) -> str:
    """SHA-256 of a file in hexadecimal."""
    with open_regular(path) as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


@contextlib.contextmanager
def building(target: Path) -> Iterator[Path]:
    """Give an empty folder beside ``target``; on success its files take their place in ``target``.

    On any exception ``target`` is as it was and the folder is removed. Messages that name the folder name ``target``
    instead. Raises :class:`OutputError` for what the operating system refuses.
    """
    demand_text(target)
    if os.path.lexists(target) and not target.is_dir():
        raise OutputError(str(target), "a file is in the way", hint="choose another place")
    parents = [p for p in target.parents if not os.path.lexists(p)]
    make_folder(target.parent)
    noted = note_unfinished(target.parent)
    try:
        # Not tempfile.mkdtemp: on Windows its folders, and so the delivery, would be for one user alone.
        folder = noted[0] / f"{noted[1]}folder"
        folder.mkdir()
    except OSError as exc:
        forget_unfinished(noted)
        raise output_error(target, exc) from None
    try:
        yield folder
        _settled(folder)
        _publish(folder, target)
    except OSError as exc:
        raise output_error(_renamed(exc.filename or str(target), folder, target), exc) from None
    except LookwrightError as exc:
        exc.where, exc.got = (_renamed(t, folder, target) for t in (exc.where, exc.got))
        exc.args = (exc.line(),)
        raise
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        forget_unfinished(noted)
        if not os.path.lexists(target):
            with contextlib.suppress(OSError):
                for parent in parents:
                    parent.rmdir()


def _renamed(text: str, folder: Path, target: Path) -> str:
    return text.replace(str(folder), str(target))


def _files(folder: Path) -> list[Path]:
    return sorted(p.relative_to(folder) for p in folder.rglob("*") if p.is_file())


def _settled(folder: Path) -> None:
    """Everything on the disk."""
    for file in _files(folder):
        settle(folder / file)


def _publish(folder: Path, target: Path) -> None:
    with contextlib.suppress(OSError):
        os.rename(folder, target)  # POSIX: also over an empty folder; Windows: over none, then file by file
        return
    files = _files(folder)
    files.sort(key=lambda f: f.name == MANIFEST)
    stale = _stale(target, {f.as_posix() for f in files})
    for file in files:
        (target / file).parent.mkdir(parents=True, exist_ok=True)
        put_in_place(folder / file, target / file)
    written = [(target / file).stat() for file in files]
    for old in stale:
        with contextlib.suppress(OSError):
            if any(os.path.samestat(old.stat(), new) for new in written):
                continue  # a new file, where names that differ only in case are one
            old.unlink()
            old.parent.rmdir()  # only when empty


def _stale(target: Path, kept: set[str]) -> list[Path]:
    """Files of the earlier delivery that the new one lacks, unchanged since."""
    try:
        text = read_bytes(target / MANIFEST, _MOST_BYTES, "a manifest", LookwrightError)
        earlier = {str(f["file"]): str(f["sha256"]) for f in json.loads(text)["files"]}
    except (LookwrightError, ValueError, KeyError, TypeError, RecursionError):
        return []
    root = target.resolve()
    out = []
    for name, digest in earlier.items():
        path = (target / name).resolve()
        if name not in kept and path.is_relative_to(root) and path.is_file() and sha256_of(path) == digest:
            out.append(target / name)
    return out
