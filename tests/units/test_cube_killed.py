"""A kill at any moment of writing leaves a whole file: the earlier one or the later one."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time

import pytest

from lookwright.lut.formats.cube import read_cube

WRITER = """
import sys
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.lattices.lattice import Lattice, grid
path = sys.argv[1]
one, two = Lattice(grid(33), title="one"), Lattice(grid(33) / 2, title="two")
write_cube(path, one)
print("ready", flush=True)
while True:
    write_cube(path, two)
    write_cube(path, one)
"""


@pytest.fixture
def writing(tmp_path):
    """Start the writer on a fresh path; whatever is left of it is ended with the test."""
    started = []

    def start():
        path = tmp_path / "look.cube"
        writer = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE)
        started.append(writer)
        assert writer.stdout is not None and writer.stdout.readline() == b"ready\n"
        return writer, path

    yield start
    for writer in started:
        writer.kill()
        writer.communicate()


def check_whole(path):
    file = read_cube(path)  # raises unless whole
    assert file.lattice.table[-1, -1, -1, 0] == {"one": 1.0, "two": 0.5}[file.title]


def unfinished(path):
    """Files beside the LUT: they keep a name of their own and are never taken for it."""
    others = [p for p in path.parent.iterdir() if p != path]
    assert all(p.name.startswith(".writing-") for p in others)
    return others


def test_kill_at_any_moment(writing):
    rng = random.Random(8)
    for _ in range(3):
        writer, path = writing()
        # One write takes some 30 ms; spread the kills over several of them.
        time.sleep(rng.uniform(0.0, 0.15))
        writer.kill()
        writer.wait()
        check_whole(path)


def test_kill_in_mid_write(writing):
    """The writer is held still again and again while its unfinished file is there, then killed there.

    What a held writer has on disk is what a killed one would leave; holding it makes sure of the moment.
    """
    writer, path = writing()
    rng = random.Random(9)
    held = 0
    deadline = time.monotonic() + 60
    while held < 12:
        assert time.monotonic() < deadline, f"only {held} of 12 moments in 60 seconds"
        if not unfinished(path):
            continue
        time.sleep(rng.uniform(0.0, 0.003))
        writer.send_signal(signal.SIGSTOP)
        os.waitpid(writer.pid, os.WUNTRACED)
        held += len(unfinished(path))
        check_whole(path)
        if held < 12:
            writer.send_signal(signal.SIGCONT)
    writer.kill()
    writer.wait()
    assert len(unfinished(path)) == 1
    check_whole(path)
