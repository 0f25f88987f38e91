"""A kill at any moment of writing leaves a whole file: the earlier one or the later one."""

from __future__ import annotations

import random
import subprocess
import sys
import time

from lookwright.lut.cube import read_cube

WRITER = """
import sys
from lookwright.lut.cube import write_cube
from lookwright.lut.lattice import Lattice, grid
path = sys.argv[1]
one, two = Lattice(grid(33), title="one"), Lattice(grid(33) / 2, title="two")
write_cube(path, one)
print("ready", flush=True)
while True:
    write_cube(path, two)
    write_cube(path, one)
"""


def test_kill_in_mid_write(tmp_path):
    rng = random.Random(8)
    path = tmp_path / "look.cube"
    seen, interrupted = set(), 0
    for _ in range(8):
        with subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE) as writer:
            assert writer.stdout is not None and writer.stdout.readline() == b"ready\n"
            # One write takes some 30 ms; spread the kills over several of them.
            time.sleep(rng.uniform(0.0, 0.15))
            writer.kill()
        file = read_cube(path)  # raises unless whole
        assert file.lattice.table[-1, -1, -1, 0] == {"one": 1.0, "two": 0.5}[file.title]
        seen.add(file.title)
        parts = [p for p in tmp_path.iterdir() if p != path]
        interrupted += len(parts)
        for part in parts:  # an unfinished file keeps its own name and is never taken for the LUT
            assert part.name.startswith(".writing-")
            part.unlink()
    # The test must have hit the middle of a write at least once, or it shows nothing.
    assert interrupted > 0
