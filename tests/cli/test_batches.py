"""Many stills at once: killed and started again, changed between runs, some of them bad."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from lookwright.pictures.batch import LEDGER
from lookwright.pictures.stills import write

Run = Callable[..., object]


@pytest.fixture
def season(tmp_path: Path, crop: np.ndarray) -> Path:
    folder = tmp_path / "season"
    folder.mkdir()
    big = np.tile(crop, (4, 4, 1))
    for n in range(12):
        write(folder / f"shot{n:02d}.png", np.roll(big, 7 * n, axis=1))
    return folder


def hashes(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir() if p.name != LEDGER}


def test_killed_and_resumed(look: Path, season: Path, tmp_path: Path, lookwright: Run) -> None:
    whole, cut = tmp_path / "whole", tmp_path / "cut"
    assert lookwright("preview", look, "--stills", season, "--out", whole).code == 0
    process = subprocess.Popen(
        [sys.executable, "-m", "lookwright", "preview", look, "--stills", season, "--out", cut, "--quiet"]
    )
    limit = time.monotonic() + 60
    while len(list(cut.glob("*.jpg"))) < 7 and process.poll() is None and time.monotonic() < limit:
        time.sleep(0.002)
    process.send_signal(signal.SIGKILL)
    process.wait()
    there = len(list(cut.glob("*.jpg")))
    assert there >= 7
    (cut / ".writing-left.jpg").write_bytes(b"half")
    said = lookwright("preview", look, "--stills", season, "--out", cut, "--json")
    assert said.code == 0
    kept = len(json.loads(said.out)["already_there"])
    # What was renamed but not yet noted when the kill came is made again: at most one a worker.
    assert there - (os.cpu_count() or 1) - 1 <= kept <= there
    assert hashes(cut) == hashes(whole), "the same pictures, and nothing half-written"


def test_only_what_changed_is_made_again(look: Path, season: Path, tmp_path: Path, lookwright: Run) -> None:
    out = tmp_path / "out"
    lookwright("preview", look, "--stills", season, "--out", out)
    assert "wrote 0 picture(s), 12 there already" in lookwright("preview", look, "--stills", season, "--out", out).out
    write(season / "shot03.png", np.full((8, 8, 3), 0.4, np.float32))
    (out / "shot05-window.jpg").unlink()
    (out / "shot07-window.jpg").write_bytes(b"somebody else's")
    spoilt = out / "shot08-window.jpg"
    spoilt.write_bytes(bytes(spoilt.stat().st_size))  # as a power cut leaves a file
    assert "wrote 4 picture(s), 8 there already" in lookwright("preview", look, "--stills", season, "--out", out).out
    look.write_text(look.read_text().replace("stops = 0.2", "stops = 0.3"))
    assert "wrote 12 picture(s) to" in lookwright("preview", look, "--stills", season, "--out", out).out
    assert "12 there already" in lookwright("preview", look, "--stills", season, "--out", out).out
    again = lookwright("preview", look, "--stills", season, "--out", out, "--layout", "wipe", "--at", "0.3")
    assert "wrote 12 picture(s) to" in again.out, "another layout has files of its own"


def test_bad_stills_among_many(look: Path, season: Path, tmp_path: Path, lookwright: Run) -> None:
    (season / "shot04.png").write_bytes(b"")
    (season / "shot09.png").write_bytes((season / "shot10.png").read_bytes()[:4000])
    out = tmp_path / "out"
    said = lookwright("preview", look, "--stills", season, "--out", out)
    assert said.code == 1 and said.err.count("\n") == 2
    assert "shot04.png: the file is empty" in said.err and "shot09.png: the PNG is damaged" in said.err
    assert len(list(out.glob("*.jpg"))) == 10
    assert "wrote 0 picture(s), 10 there already" in lookwright("preview", look, "--stills", season, "--out", out).out


def on_a_terminal(code: str) -> str:
    """What a process writes on a terminal; util-linux `script` gives it one."""
    if shutil.which("script") is None:
        pytest.skip("needs util-linux script")
    command = f'{sys.executable} -c "{code}"'
    done = subprocess.run(["script", "-qec", command, os.devnull], capture_output=True, timeout=60, check=True)
    return done.stdout.decode()


def test_the_progress_line_tells_the_time_left() -> None:
    """On a terminal only."""
    code = (
        "import time; from lookwright.app.cli.terminal import TerminalProgress\n"
        "with TerminalProgress(False) as progress:\n    progress.start('grading', 4)\n"
        "    for _ in range(4): time.sleep(0.6); progress.advance(); progress.tell('making night.cube')"
    )
    text = on_a_terminal(code)
    assert "grading" in text and "100%" in text
    assert re.search(r"50%\s+00:00:0[12]\s+making night.cube", text), "hours, minutes and seconds left; what is done"
    piped = subprocess.run([sys.executable, "-c", code], capture_output=True, timeout=60, check=True)
    assert piped.stdout == piped.stderr == b"", "and nothing in a pipe"


def test_the_progress_line_is_written_over_while_stills_are_read() -> None:
    """Decoding holds standard error back for what libpng prints; the line came later then, without its escapes."""
    code = (
        "from lookwright.app.cli.terminal import TerminalProgress\n"
        "from lookwright.pictures.stills.quiet import libpng_quiet\n"
        "with TerminalProgress(False) as progress:\n    progress.tell('reading')\n"
        "    with libpng_quiet(): progress.tell('solving', 2.0)\n"
    )
    assert "\r\033[Kreading\r\033[Ksolving, distance 2.00\r\033[K" in on_a_terminal(code)
