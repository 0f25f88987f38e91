"""Two processes that write the same file at once: whoever reads finds one whole file of one of them, at any moment."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from lookwright.lut.formats.cube import read_cube
from lookwright.pictures.stills import read

CUBE = """
import sys
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.lattices.lattice import Lattice, grid
path, value = sys.argv[1], float(sys.argv[2])
lattice = Lattice(grid(17) * 0 + value, title=f"all {value}")
print("ready", flush=True)
sys.stdin.readline()
for _ in range(20):
    write_cube(path, lattice)
"""

STILL = """
import sys
import numpy as np
from lookwright.pictures.stills import write
path, value = sys.argv[1], float(sys.argv[2])
pixels = np.full((160, 240, 3), value, np.float32)
print("ready", flush=True)
sys.stdin.readline()
for _ in range(20):
    write(path, pixels)
"""


def contents(path: Path) -> set[float]:
    """The values in the file, whichever kind it is; raises unless it is whole."""
    if path.suffix == ".cube":
        file = read_cube(path)
        assert file.lattice is not None
        values = {float(v) for v in np.unique(file.lattice.table)}
        assert file.title == f"all {next(iter(values))}"
        return values
    return {round(float(v), 2) for v in np.unique(read(path).pixels)}


@pytest.mark.parametrize(
    ("program", "name"), [(CUBE, "look.cube"), (STILL, "still.png"), (STILL, "still.tif"), (STILL, "still.exr")]
)
def test_two_writers(tmp_path: Path, program: str, name: str) -> None:
    target = tmp_path / name
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", program, str(target), value],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for value in ("0.25", "0.75")
    ]
    try:
        for writer in writers:
            assert writer.stdout is not None and writer.stdout.readline() == "ready\n"
        for writer in writers:  # both at once, not one after the other
            assert writer.stdin is not None
            writer.stdin.write("\n")
            writer.stdin.flush()
        looks, seen = 0, set()
        while any(w.poll() is None for w in writers):
            if not target.exists():
                continue
            found = contents(target)
            assert found in ({0.25}, {0.75}), "a mixture of both"
            seen |= found
            looks += 1
            time.sleep(0.002)
        assert [w.returncode for w in writers] == [0, 0]
    finally:
        for writer in writers:
            writer.kill()
            writer.communicate()
    assert looks >= 5, "the file was hardly looked at"
    assert contents(target) in ({0.25}, {0.75})
    assert os.listdir(tmp_path) == [name], "something is left over"


DELIVERY = """
import json, sys
from pathlib import Path
from lookwright.present.delivery.folder import MANIFEST, building, sha256_of
target, value = Path(sys.argv[1]), sys.argv[2]
print("ready", flush=True)
sys.stdin.readline()
for _ in range(10):
    with building(target) as folder:
        for number in range(12):
            (folder / f"{number}.cube").write_text(value * 3000)
        files = [{"file": p.name, "sha256": sha256_of(p)} for p in sorted(folder.iterdir())]
        (folder / MANIFEST).write_text(json.dumps({"files": files}))
"""


def test_two_deliveries_into_one_folder(tmp_path: Path) -> None:
    """Every file is a whole one of either, and so is the manifest: a mixture does not pass for a delivery."""
    target = tmp_path / "delivery"
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", DELIVERY, str(target), value],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for value in "ab"
    ]
    for writer in writers:
        assert writer.stdout is not None and writer.stdout.readline() == "ready\n"
    said = []
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("\n")
        writer.stdin.flush()
    for writer in writers:
        said.append(writer.communicate(timeout=60)[1])
    assert [w.returncode for w in writers] == [0, 0], said
    assert os.listdir(tmp_path) == ["delivery"], "something is left over"
    found = {p.name: p.read_text() for p in target.glob("*.cube")}
    assert sorted(found) == sorted(f"{n}.cube" for n in range(12))
    assert set(found.values()) <= {"a" * 3000, "b" * 3000}
    listed = {f["file"]: f["sha256"] for f in json.loads((target / "manifest.json").read_text())["files"]}
    whole = [hashlib.sha256((value * 3000).encode()).hexdigest() for value in "ab"]
    assert listed in [dict.fromkeys(found, digest) for digest in whole]


def test_two_previews_into_one_folder(tmp_path: Path) -> None:
    """The real command twice at once: afterwards each picture is whole and exactly what one run alone gives."""
    look = Path(__file__).parents[2] / "looks" / "night-workshop.toml"
    stills = tmp_path / "stills"
    stills.mkdir()
    from lookwright.pictures.stills import write

    y, x = np.mgrid[0:60, 0:90]
    for number in range(6):
        write(stills / f"s{number}.png", np.stack([x / 89, y / 59, (x + number) / 120], axis=2).astype(np.float32))

    def start(out: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [
                sys.executable,
                "-m",
                "lookwright",
                "preview",
                str(look),
                "--stills",
                str(stills),
                "--size",
                "9",
                "--format",
                "png",
                "--quiet",
                "--out",
                str(tmp_path / out),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )

    for out in ("alone", "both"):
        (tmp_path / out).mkdir()
    for running in [start("alone")], [start("both"), start("both")]:
        for process in running:
            _, said = process.communicate(timeout=120)
            assert process.returncode == 0, said.decode()
    names = sorted(os.listdir(tmp_path / "alone"))
    assert len(names) >= 6 and sorted(os.listdir(tmp_path / "both")) == names
    for name in names:
        if name.endswith(".png"):
            assert (tmp_path / "alone" / name).read_bytes() == (tmp_path / "both" / name).read_bytes(), name
