"""Versions of a recipe: named texts that lie beside the look, so that no end of the bench can lose them.

``window.toml`` has ``window.toml.versions``: JSON, written whole after each change. Two benches on one look add to each
other's: the file is read again before it is written, and versions are told apart by their ids.
"""

from __future__ import annotations

import datetime
import json
import secrets
import threading
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from lookwright.errors import LookwrightError
from lookwright.files import write_text
from lookwright.reading import read_bytes

SUFFIX = ".versions"
FORMAT = 1
MOST_BYTES = 10_000_000
MOST = 200
LONGEST_NAME = 80


@dataclass(frozen=True)
class Version:
    """The text of a recipe at one time, under a name."""

    id: str
    name: str
    when: str
    """Local date and time, ISO 8601 to the second."""
    text: str


class Versions:
    """The versions of one look.

    Parameters
    ----------
    target
        The look file; the versions lie beside it.
    """

    def __init__(self, target: Path) -> None:
        self.path = target.with_name(target.name + SUFFIX)
        self._lock = threading.Lock()
        self._all: dict[str, Version] = {}
        self._fault: LookwrightError | None = None
        try:
            self._all = self._read()
        except LookwrightError as exc:
            self._fault = exc

    @property
    def fault(self) -> str:
        """Why the file that is there cannot be used; it is then left alone, and nothing can be kept."""
        return self._fault.line() if self._fault else ""

    @property
    def list(self) -> tuple[Version, ...]:
        """All of them, oldest first."""
        with self._lock:
            return tuple(sorted(self._all.values(), key=lambda v: v.when))

    def get(self, id: str) -> Version:
        """One version; raises :class:`LookwrightError` when there is none of that id."""
        with self._lock:
            if id not in self._all:
                raise LookwrightError("version", "it is no longer there", hint="another window took it out")
            return self._all[id]

    def keep(self, name: str, text: str) -> Version:
        """A new version, on the disk when this returns.

        Raises :class:`LookwrightError` when it cannot be written, or there are :data:`MOST`.
        """
        when = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
        new = Version(secrets.token_hex(6), name.strip()[:LONGEST_NAME] or when, when, text)
        self._write({new.id: new}, ())
        return new

    def rename(self, id: str, name: str) -> None:
        """Another name. Raises as :meth:`keep` does."""
        old = self.get(id)
        self._write({id: Version(id, name.strip()[:LONGEST_NAME] or old.name, old.when, old.text)}, ())

    def drop(self, id: str) -> None:
        """Take a version out. Raises as :meth:`keep` does."""
        self.get(id)
        self._write({}, (id,))

    def _write(self, new: dict[str, Version], out: tuple[str, ...]) -> None:
        with self._lock:
            if self._fault:
                hint = "move it away, and start the bench again"
                raise LookwrightError(self.path.name, self._fault.got, self._fault.expected, hint)
            after = {k: v for k, v in {**self._all, **self._read(), **new}.items() if k not in out}
            if len(after) > MOST:
                raise LookwrightError("version", f"there are {MOST} already", hint="take some out")
            told = {"format": FORMAT, "versions": [asdict(v) for v in after.values()]}
            if after or self.path.exists():
                write_text(self.path, json.dumps(told, ensure_ascii=False, indent=1) + "\n")
            self._all = after

    def _read(self) -> dict[str, Version]:
        if not self.path.exists():
            return {}
        try:
            data = json.loads(read_bytes(self.path, MOST_BYTES, "versions", LookwrightError).decode("utf-8"))
            found = [Version(**{k: _text(v[k]) for k in ("id", "name", "when", "text")}) for v in data["versions"]]
        except (ValueError, KeyError, TypeError, RecursionError):
            raise LookwrightError(self.path.name, "holds no versions of a recipe") from None
        return {v.id: v for v in found}


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value
