"""How several things are told in one sentence."""

from __future__ import annotations

from collections.abc import Sequence


def listed(names: Sequence[str], most: int = 3) -> str:
    """A few names, and how many more."""
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")
