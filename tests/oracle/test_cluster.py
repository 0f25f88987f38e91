"""The same previews from a local two-worker Dask cluster as from this machine's threads."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from lookwright.pictures.stills import read, write

if not os.environ.get("CI"):
    pytest.importorskip("distributed")  # in CI its absence is a fault

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "overcast.toml"


@pytest.fixture
def scheduler(tmp_path: Path) -> Iterator[str]:
    """A scheduler and two workers, each its own process on the loopback address, ended afterwards."""
    file = tmp_path / "scheduler.json"
    here = ["--interface", "lo"] if sys.platform == "linux" else ["--host", "127.0.0.1"]
    common = {"cwd": tmp_path, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    dask = [sys.executable, "-m", "distributed.cli.dask_scheduler"]
    processes = [
        subprocess.Popen([*dask, "--scheduler-file", str(file), "--port", "0", "--no-dashboard", *here], **common)
    ]
    try:
        limit = time.monotonic() + 60
        while not file.exists() and time.monotonic() < limit:
            time.sleep(0.05)
        assert file.exists(), "the scheduler did not start"
        for n in range(2):
            worker = [
                sys.executable,
                "-m",
                "distributed.cli.dask_worker",
                "--scheduler-file",
                str(file),
                "--nthreads",
                "1",
                "--nworkers",
                "1",
                "--no-dashboard",
                "--name",
                f"w{n}",
                "--no-nanny",
                *here,
            ]
            processes.append(subprocess.Popen(worker, **common))
        import json

        yield str(json.loads(file.read_text())["address"])
    finally:
        # Workers first and one by one: one whose scheduler has gone looks for it half a minute.
        for process in reversed(processes):
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def preview(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "lookwright", "preview", str(LOOK), *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_two_workers_make_the_same_pictures(scheduler: str, tmp_path: Path) -> None:
    stills = tmp_path / "stills"
    stills.mkdir()
    sample = read(ROOT / "sample_images" / "day_acescct.png").pixels[::8, ::8]
    for n in range(10):
        write(stills / f"shot{n}.png", np.ascontiguousarray(np.roll(sample, 11 * n, axis=1)))
    (stills / "shot4.png").write_bytes(b"no picture")
    sent, here = tmp_path / "sent", tmp_path / "here"
    far = preview("--stills", stills, "--out", sent, "--scheduler", scheduler)
    near = preview("--stills", stills, "--out", here)
    assert far.returncode == near.returncode == 1, far.stderr
    assert far.stderr == near.stderr and far.stderr.count("\n") == 1 and "shot4.png" in far.stderr
    pictures = {p.name: p.read_bytes() for p in sent.glob("*.jpg")}
    assert len(pictures) == 9 and pictures == {p.name: p.read_bytes() for p in here.glob("*.jpg")}
    again = preview("--stills", stills, "--out", sent, "--scheduler", scheduler)
    assert "wrote 0 picture(s), 9 there already" in again.stdout


def test_two_workers_grade_the_same_clips(scheduler: str, tmp_path: Path) -> None:
    """A series of clips: the same previews as from threads; one that is damaged is named and the rest are done."""
    pytest.importorskip("av")
    pytest.importorskip("imageio_ffmpeg")
    from clip_takes import encode, frames_of
    from takes import Truth

    from lookwright.jobs.given import SignalName
    from lookwright.jobs.looks import load_look
    from lookwright.jobs.series_clips import ClipGrading, grade_clips
    from lookwright.jobs.series_files import Handed, write_shots
    from lookwright.jobs.series_shots import Source
    from lookwright.look.baking.viewing import View
    from lookwright.lut.formats.cdl import Correction
    from lookwright.pictures.clips.read import read_clip

    (tmp_path / "rushes").mkdir()
    shots = []
    for n in range(3):
        path = encode(tmp_path / "rushes" / f"C00{n}.mov", frames_of("close", Truth("x", 0.2 * n), 6, 8), sound=n == 1)
        shots.append(Source(path.stem, path, read_clip(path)))
    data = bytearray(shots[2].path.read_bytes())
    at = data.find(b"mdat") + 4
    for n in range(at + 200, len(data) - 2000, 97):
        data[n] ^= 0xFF
    shots[2].path.write_bytes(data)
    look, text = load_look(LOOK)
    corrections = [Correction(offset=(-0.02 * n,) * 3, id=s.shot) for n, s in enumerate(shots)]
    made = {}
    for name, address in (("threads", None), ("cluster", scheduler)):
        out = tmp_path / name
        done = write_shots(out, look, text, View(look), corrections, Handed(True, False, 9))
        grading = ClipGrading(SignalName("ACEScct"), SignalName(look.output.encoding))
        made[name] = grade_clips(grading, [(s, done.cubes[s.shot]) for s in shots], out, address)
        assert [p.name for p in made[name].written] == ["C000.mp4", "C001.mp4"]
        assert len(made[name].faults) == 1 and "C002.mov: is damaged" in made[name].faults[0].line()
    for one, other in zip(made["threads"].written, made["cluster"].written, strict=True):
        assert one.read_bytes() == other.read_bytes()
