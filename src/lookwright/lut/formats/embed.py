"""A recipe carried inside a LUT file as comment lines, so that the LUT can be turned back into its look.

The scheme is our own and made to be read by eye::

    recipe, 52 bytes; the lines with a bar hold it:
    | source = "ACEScct"
    | # a caf\\u00e9 at night
    end of recipe, sha256 6f0c...

Every bar line is one line of the text. ``\\\\`` stands for a backslash, ``\\r`` and ``\\t`` for carriage
return and tab, ``\\uXXXX`` and ``\\UXXXXXXXX`` for any other character outside printable ASCII and for a
space at the end of a line (which editors and mailers strip). A line that ends in a single backslash goes
on in the next one. The hash is of the text's UTF-8 bytes: a changed recipe is noticed.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable

from lookwright.errors import LutFileError

WIDTH = 200
"""Longest line made here; FFmpeg 5 and 9 read a .cube into a buffer of 512 bytes (measured)."""

_BEGIN = re.compile(r"recipe, (\d+) bytes; the lines with a bar hold it:")
_END = re.compile(r"end of recipe, sha256 ([0-9a-f]{64})")
_ESCAPE = re.compile(r"\\(\\|r|t|u[0-9a-f]{4}|U[0-9a-f]{8})")
_SHORT = {"\\": "\\\\", "\r": "\\r", "\t": "\\t"}


def embed(text: str) -> list[str]:
    """Comment lines that hold ``text``.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    Lines of printable ASCII, at most 200 characters each, without the leading ``#``.
    """
    data = _utf8(text)
    lines = [f"recipe, {len(data)} bytes; the lines with a bar hold it:"]
    whole = text.split("\n")
    for number, line in enumerate(whole):
        last = number == len(whole) - 1
        if last and not line:
            break  # the text ended with a line feed, as the previous bar line already says
        lines += _wrapped(line, open_end=last)
    lines.append(f"end of recipe, sha256 {hashlib.sha256(data).hexdigest()}")
    return lines


def extract(comments: Iterable[str]) -> str | None:
    """The text that :func:`embed` put among ``comments``, or None when there is none.

    Raises
    ------
    LutFileError
        When the recipe is cut short, or was changed after it was written (its hash does not match).
    """
    pieces: list[str] | None = None
    for line in comments:
        if pieces is None:
            if _BEGIN.fullmatch(line.strip()):
                pieces = []
        elif line == "|" or line.startswith("| "):
            body = line[2:]
            # An even number of backslashes at the end are escaped ones; an odd one means "goes on".
            goes_on = (len(body) - len(body.rstrip("\\"))) % 2 == 1
            pieces.append(body[:-1] if goes_on else body + "\n")
        elif end := _END.fullmatch(line.strip()):
            text = _ESCAPE.sub(_unescaped, "".join(pieces))
            if hashlib.sha256(_utf8(text)).hexdigest() != end[1]:
                raise LutFileError("embedded recipe", "its hash does not match: it was changed after the LUT was made")
            return text
        # Other comment lines between are somebody else's and do no harm.
    if pieces is not None:
        raise LutFileError("embedded recipe", "it is cut short: the line 'end of recipe' is missing")
    return None


def _utf8(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _escaped(character: str) -> str:
    if character in _SHORT:
        return _SHORT[character]
    if " " <= character <= "~":
        return character
    code = ord(character)
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


def _unescaped(match: re.Match[str]) -> str:
    body = match[1]
    simple = {"\\": "\\", "r": "\r", "t": "\t"}.get(body)
    if simple is not None:
        return simple
    code = int(body[1:], 16)
    return chr(code) if code <= 0x10FFFF else "\ufffd"


def _wrapped(line: str, open_end: bool) -> list[str]:
    """One line of text as bar lines; ``open_end``: no line feed follows it."""
    room = WIDTH - len("| ") - len("\\u0020") - 1
    parts: list[str] = []
    current = ""
    for character in line:
        piece = _escaped(character)
        # A part may not end in a space either: the backslash that follows it protects it.
        if len(current) + len(piece) > room:
            parts.append(current + "\\")
            current = ""
        current += piece
    if current.endswith(" ") and not open_end:
        current = current[:-1] + "\\u0020"
    if open_end:
        current += "\\"
    parts.append(current)
    return [f"| {p}" if p else "|" for p in parts]
