"""A folder of clips matched and graded: memory over time, and a run that is killed and begun again.

    python tests/benchmarks/series_clips.py [--count 100] [--frames 24] [--every 4]

Takes of a sample scene (exposure and balance at random, as in tests/shared/takes.py), 10-bit H.264 with sound. The run
is a process of its own; its memory is read from /proc four times a second. In a second folder it is killed in the
middle of grading and started again: what was there is not made again, and what is made is the same.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))
from clip_takes import encode, frames_of
from takes import random_truths

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "night-workshop.toml"


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--frames", type=int, default=24)
    parser.add_argument("--every", type=int, default=4, help="the sample still over this is a frame")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        size = rushes(folder / "rushes", given.count, given.frames, given.every)
        print(f"{given.count} clips of {given.frames} frames, {size[1]} x {size[0]}, 10 bits, with sound")
        whole(folder)
        killed(folder)


def rushes(folder: Path, count: int, frames: int, every: int) -> tuple[int, int]:
    """The clips; height and width of a frame."""
    folder.mkdir()
    for number, truth in enumerate(random_truths(count, [], 20)):
        taken = frames_of("close", truth, frames, every, 100 * number)
        encode(folder / f"{truth.name}.mov", taken, sound=True)
    return taken.shape[1], taken.shape[2]


def command(folder: Path, out: str) -> list[str]:
    """The run."""
    shots = folder / "rushes"
    anchor = shots / "take-01.mov"
    words = ["series", LOOK, "--shots", shots, "--anchor", anchor, "--no-marks", "--clips", "graded"]
    return [sys.executable, "-m", "lookwright", *map(str, words), "--out", str(folder / out), "--quiet"]


def memory(pid: int) -> float:
    """Megabytes that a process holds."""
    with open(f"/proc/{pid}/status", encoding="ascii") as file:
        return next((int(x.split()[1]) / 1024.0 for x in file if x.startswith("VmRSS")), 0.0)


def whole(folder: Path) -> None:
    """One run, its memory over the time of grading."""
    run = subprocess.Popen(command(folder, "whole"))
    held: list[tuple[int, float]] = []
    start = time.perf_counter()
    first = 0.0
    while run.poll() is None:
        done = len(list((folder / "whole" / "clips").glob("take*.mp4")))
        if done and not first:
            first = time.perf_counter()
        held.append((done, memory(run.pid)))
        time.sleep(0.25)
    seconds = time.perf_counter() - start
    count = len(list((folder / "whole" / "clips").glob("take*.mp4")))
    print(
        f"exit {run.returncode}, {count} previews; {seconds:.0f} s, of which grading {time.perf_counter() - first:.0f} s"
    )
    graded = [(d, m) for d, m in held if d > 0]
    before = max((m for d, m in held if d == 0), default=0.0)
    print(f"  memory: at most {before:.0f} MB while clips are read and matched")
    for low, high in ((1, 25), (25, 50), (50, 75), (75, 101)):
        part = [m for d, m in graded if low <= 100.0 * d / count < high or (high == 101 and d == count)]
        if part:
            print(f"  graded {low} to {min(high, 100)} %: mean {np.mean(part):.0f} MB, at most {max(part):.0f} MB")


def killed(folder: Path) -> None:
    """Killed in the middle of grading, and begun again."""
    run = subprocess.Popen(command(folder, "killed"))
    clips = folder / "killed" / "clips"
    total = len(list((folder / "rushes").iterdir()))
    while run.poll() is None and len(list(clips.glob("take*.mp4"))) < total // 2:
        time.sleep(0.05)
    os.kill(run.pid, signal.SIGKILL)
    run.wait()
    left = {p.name: p.stat().st_mtime_ns for p in clips.glob("take*.mp4")}
    unfinished = len(list(clips.glob(".writing*")))
    again = subprocess.run([*command(folder, "killed")[:-1], "--json"], capture_output=True, text=True, check=False)
    kept = sum(1 for name, at in left.items() if (clips / name).stat().st_mtime_ns == at)
    same = sum(
        1 for p in clips.glob("take*.mp4") if p.read_bytes() == (folder / "whole" / "clips" / p.name).read_bytes()
    )
    print(f"killed with {len(left)} previews whole and {unfinished} unfinished; begun again (exit {again.returncode}):")
    made = len(json.loads(again.stdout or "{}").get("clips_there_already", []))
    print(
        f"  {made} found there already, {kept} files of the first run untouched; {same} of {total} the same bytes as the run that went through;"
    )
    print(f"  unfinished left: {len(list(folder.joinpath('killed').rglob('.writing*')))}")


if __name__ == "__main__":
    main()
