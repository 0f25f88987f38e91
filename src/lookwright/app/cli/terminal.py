"""What a terminal is told: text that cannot move the cursor or colour the screen, and how far the work has come."""

from __future__ import annotations

import sys
from typing import Any, Self

import click

from .rewriting import may_rewrite


def printable(text: str) -> str:
    """``text`` with every control character (and every byte that is no text) replaced by a space.

    A file may be named with escape codes or line breaks; naming it must not carry them to the terminal.
    """
    return "".join(c if c.isprintable() else " " for c in text)


class TerminalProgress:
    """A job's :class:`lookwright.jobs.progress.Progress` as a line on a terminal's stderr; silent in a pipe.

    A context manager: the line ends with it. Ctrl-C needs no word here, it comes as an exception of its own.
    """

    def __init__(self, quiet: bool) -> None:
        self._silent = quiet or not may_rewrite(sys.stderr)
        self._bar: Any = None
        self._told = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self._end()

    def start(self, what: str, total: int) -> None:
        """A bar with the time left, where there is more than one piece."""
        self._end()
        if not self._silent and total >= 2:
            self._bar = click.progressbar(length=total, label=what, file=sys.stderr).__enter__()

    def advance(self, count: int = 1) -> None:
        """Move the bar on."""
        if self._bar is not None:
            self._bar.update(count)

    def tell(self, what: str, distance: float = 0.0) -> None:
        """A line that is written over."""
        if self._silent:
            return
        if self._bar is not None:
            self._end()
        self._told = True
        text = f"\r\033[K{what}" + (f", distance {distance:.2f}" if distance > 0 else "")
        click.echo(text, nl=False, err=True)

    def check(self) -> None:
        """Nothing: Ctrl-C comes by itself."""

    def _end(self) -> None:
        """Leave the bar with its last state, or take the line away."""
        bar, self._bar = self._bar, None
        told, self._told = self._told, False
        if bar is not None:
            bar.__exit__(None, None, None)
        if told:
            click.echo("\r\033[K", nl=False, err=True)
