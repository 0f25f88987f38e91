"""What a terminal is sent: a line written over where that can be, no colour, and nothing of the kind for TERM=dumb."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

pty = pytest.importorskip("pty", reason="terminals of POSIX systems")

COLOUR = re.compile(rb"\x1b\[[0-9;]*m")  # ECMA-48, 8.3.117 (SGR)
COMMANDS = {
    "preview": "preview look.toml --stills stills --size 5 --out out",
    "tune": "tune look.toml --stills stills --mark key=0.4,0.4,0.2,0.2 --level key=50 --samples 100 --out tuned.toml",
    "wrong": "preview none.toml --stills stills --out out",
    "help": "--help",
}
CODES = {"preview": 0, "tune": 1, "wrong": 2, "help": 0}  # the level cannot be reached within restraint


@pytest.fixture
def on_a_terminal(look: Path, stills: Path, tmp_path: Path) -> object:
    """Runs a command with both outputs on a terminal; all that the terminal got."""
    (tmp_path / "work").mkdir()
    look.rename(tmp_path / "work/look.toml")
    stills.rename(tmp_path / "work/stills")

    def run(name: str, **environment: str) -> bytes:
        ours, theirs = pty.openpty()
        plain = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "TERM", "FORCE_COLOR")}
        with subprocess.Popen(
            [sys.executable, "-m", "lookwright", *COMMANDS[name].split()],
            stdin=subprocess.DEVNULL,
            stdout=theirs,
            stderr=theirs,
            cwd=tmp_path / "work",
            env={**plain, **environment},
        ) as running:
            os.close(theirs)
            got = b""
            while True:
                try:
                    part = os.read(ours, 65536)
                except OSError:  # the last one who held the terminal has gone (Linux says it so)
                    break
                if not part:
                    break
                got += part
        os.close(ours)
        assert running.returncode == CODES[name], got
        return got.replace(b"\r\n", b"\n")  # the terminal's own line ends

    return run


@pytest.mark.parametrize("name", ["preview", "tune"])
def test_a_line_is_written_over_on_a_terminal(on_a_terminal, name: str) -> None:  # type: ignore[no-untyped-def]
    """Else the tests below would find nothing because there is nothing."""
    assert b"\r" in on_a_terminal(name, TERM="xterm")


@pytest.mark.parametrize("name", COMMANDS)
def test_a_dumb_terminal_gets_plain_lines(on_a_terminal, name: str) -> None:  # type: ignore[no-untyped-def]
    got = on_a_terminal(name, TERM="dumb")
    assert got and not {0x0D, 0x1B, 0x08} & set(got), got


@pytest.mark.parametrize("name", COMMANDS)
def test_nothing_is_coloured(on_a_terminal, name: str) -> None:  # type: ignore[no-untyped-def]
    got = on_a_terminal(name, TERM="xterm-256color", NO_COLOR="1")
    assert got and not COLOUR.search(got), got
