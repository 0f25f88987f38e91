"""What may be printed: text that cannot move the cursor, colour the screen or break the output's encoding."""

from __future__ import annotations


def printable(text: str) -> str:
    """``text`` with every control character (and every byte that is no text) replaced by a space.

    A file may be named with escape codes or line breaks; naming it must not carry them to the terminal.
    """
    return "".join(c if c.isprintable() else " " for c in text)
