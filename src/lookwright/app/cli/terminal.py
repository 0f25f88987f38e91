"""What goes to the terminal: text, from here or from ``options``, made safe on its way; how far the work has come."""

from __future__ import annotations

import codecs
import io
import os
import re
import sys
from typing import Any, Self, TextIO

import click

from lookwright.errors import printable

from .rewriting import may_rewrite

__all__ = ["TerminalProgress", "escaped", "hold_standard_streams", "lines_for", "printable", "show"]


_PLAIN = {"→": "->", "−": "-", "×": "x", "Δ": "d", "≤": "<=", "≥": ">=", "°": "deg", "²": "2", "…": "..."}
"""What the program prints beyond ASCII, for an output that cannot take it."""


def _plainly(fault: UnicodeError) -> tuple[str, int]:
    """An error handler of codecs: the nearest ASCII for a character that the output's code page lacks, else ``?``."""
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    return "".join(_PLAIN.get(c, "?") for c in fault.object[fault.start : fault.end]), fault.end


def suit_code_page() -> None:
    """Where standard output or error goes into a code page (a pipe on Windows), print what that lacks plainly.

    In UTF-8 only the bytes of a name that is no text remain unprintable: those stay a fault, and are told as one.
    """
    codecs.register_error("plainly", _plainly)
    for stream in (sys.stdout, sys.stderr):
        encoding = getattr(stream, "encoding", None) or "utf-8"
        if isinstance(stream, io.TextIOWrapper) and not codecs.lookup(encoding).name.startswith("utf-"):
            stream.reconfigure(errors="plainly")


def show(text: str, err: bool = False) -> None:
    """Lines for a person: control characters within them go no further."""
    for line in text.split("\n"):
        click.echo(printable(line), err=err)


def lines_for(text: str) -> str | bytes:
    """A file's text for stdout: made safe for a terminal, byte for byte for a pipe or a file, in UTF-8 everywhere."""
    if not sys.stdout.isatty():
        return text.encode("utf-8")
    return "\n".join(printable(line.expandtabs(4)) for line in text.split("\n"))


def escaped(data: str) -> str:
    """JSON with what is not printable written as ``\\uXXXX``: the same data, and safe on a terminal."""

    def code(found: re.Match[str]) -> str:
        text = found[0]
        if text.isprintable() or text in "\n":
            return text
        units = text.encode("utf-16-be", "surrogatepass")
        return "".join(f"\\u{units[i] << 8 | units[i + 1]:04x}" for i in range(0, len(units), 2))

    return re.sub(r"[^ -~]", code, data)


def hold_standard_streams() -> None:
    """Fill the places of standard streams that are closed.

    Else the first file opened takes the place of standard error, and what libraries print there goes into it.
    """
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(number)
        except OSError:
            handle = os.open(os.devnull, os.O_RDWR)
            if handle != number:
                os.dup2(handle, number)
                os.close(handle)
        if getattr(sys, name) is None:
            setattr(sys, name, open(number, "r" if number == 0 else "w", encoding="utf-8", closefd=False))  # noqa: SIM115


class TerminalProgress:
    """A job's :class:`lookwright.jobs.progress.Progress` as a line on a terminal's stderr; silent in a pipe.

    A context manager: the line ends with it. Ctrl-C needs no word here, it comes as an exception of its own.

    It has a descriptor of its own: while stills are decoded the standard one is held back, for what libpng prints, and
    what comes through it afterwards has lost its escapes.
    """

    def __init__(self, quiet: bool) -> None:
        self._silent = quiet or not may_rewrite(sys.stderr)
        self._bar: Any = None
        self._told = False
        self._stream = sys.stderr if self._silent else _beside(sys.stderr)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self._end()
        if self._stream is not sys.stderr:
            self._stream.close()

    def start(self, what: str, total: int) -> None:
        """A bar with the time left, where there is more than one piece."""
        self._end()
        if not self._silent and total >= 2:
            # As wide as the terminal leaves it beside the words.
            show: Any = {"width": 0, "item_show_func": lambda item: item}
            self._bar = click.progressbar(length=total, label=what, file=self._stream, **show).__enter__()

    def advance(self, count: int = 1) -> None:
        """Move the bar on."""
        if self._bar is not None:
            self._bar.update(count)

    def tell(self, what: str, distance: float = 0.0) -> None:
        """A line that is written over; within a part that counts its pieces, words behind the bar."""
        if self._silent:
            return
        if self._bar is not None and not self._bar.finished:
            self._bar.current_item = printable(what)
            self._bar.render_progress()
            return
        if self._bar is not None:
            self._end()
        self._told = True
        text = f"\r\033[K{printable(what)}" + (f", distance {distance:.2f}" if distance > 0 else "")
        click.echo(text, nl=False, file=self._stream)

    def check(self) -> None:
        """Nothing: Ctrl-C comes by itself."""

    def _end(self) -> None:
        """Leave the bar with its last state, or take the line away."""
        bar, self._bar = self._bar, None
        told, self._told = self._told, False
        if bar is not None:
            bar.__exit__(None, None, None)
        if told:
            click.echo("\r\033[K", nl=False, file=self._stream)


def _beside(stream: TextIO) -> TextIO:
    """The same terminal through a descriptor of its own; the stream itself where it has none."""
    try:
        number = os.dup(stream.fileno())
    except (OSError, ValueError):
        return stream
    return open(number, "w", encoding=stream.encoding, errors=stream.errors)
