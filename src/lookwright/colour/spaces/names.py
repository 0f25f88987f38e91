"""Forgiving lookup of registered names: case, spaces and punctuation do not matter."""

from __future__ import annotations

from collections.abc import Iterable

from lookwright.errors import NameLookupError, nearest


def fold(name: str) -> str:
    """Letters and digits only, case folded: ``"S-Log3"`` and ``"slog 3"`` are the same name."""
    return "".join(c for c in name.casefold() if c.isalnum())


def find(name: str, known: Iterable[str], what: str, where: str = "") -> str:
    """The registered spelling of ``name``.

    Raises :class:`NameLookupError` with the nearest matches when there is none.
    """
    known = list(known)
    wanted = fold(name)
    for k in known:
        if fold(k) == wanted:
            return k
    close = nearest(name, known)
    hint = "did you mean " + " or ".join(repr(c) for c in close) + "?" if close else "'lookwright encodings' lists them"
    shown = name if len(name) <= 60 else name[:57] + "..."
    raise NameLookupError(where or what, f"unknown {what} {shown!r}", hint=hint)
