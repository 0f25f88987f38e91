"""What tuning costs: cold, on six stills of 3840x2160 with a reference; and how that grows.

Run: python tests/benchmarks/tune_cost.py

Each figure is a fresh process of the command line, so imports and reading are in it. On a shared machine the processor
time (user and system) is the steadier figure; both are printed, with the load at the time.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import bytecode
import numpy as np

from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import read_look
from lookwright.pictures.stills import read, write
from lookwright.solve.tune.free import free_parameters

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "night-workshop.toml"
STILLS = sorted((ROOT / "sample_images").glob("*_acescct.png"))


def enlarged(path: Path, folder: Path, times: int) -> Path:
    """The still with each pixel repeated, as 16-bit PNG."""
    target = folder / f"{path.stem}-{times}.png"
    write(target, np.repeat(np.repeat(read(path).pixels, times, axis=0), times, axis=1), depth="16")
    return target


def run(*arguments: object) -> tuple[float, float]:
    """(seconds, processor seconds) of one command in a fresh process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    done = subprocess.run([sys.executable, "-m", "lookwright", *map(str, arguments)], capture_output=True, text=True)
    wall = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def finished_frame(folder: Path) -> Path:
    """A finished frame of other content: daylight through another look, cut so that it is no still of the list."""
    reference = folder / "reference.png"
    day = read(STILLS[[p.stem.startswith("day") for p in STILLS].index(True)]).pixels[:, :1400]
    graded = compile_look(read_look(ROOT / "looks" / "overcast.toml"))(day[::2, ::2].astype(float))
    write(reference, np.repeat(np.repeat(graded.astype(np.float32), 4, axis=0), 4, axis=1), depth="8")
    return reference


def given(paths: list[Path]) -> list[object]:
    """The stills as options."""
    return [a for p in paths for a in ("--stills", p)]


def asked(folder: Path) -> list[object]:
    """The options that all runs share."""
    return ["--reference", finished_frame(folder), "--out", folder / "new.toml", "--quiet"]


def six_large_stills(folder: Path) -> list[object]:
    """Options of the run that the budget speaks of; its pictures are made in ``folder``."""
    return [*given([enlarged(p, folder, 2) for p in STILLS]), *asked(folder)]


def main() -> None:
    bytecode.keep()
    names = [f.name for f in free_parameters(read_look(LOOK))]
    # Two short recipes' worth: every third parameter, and two of three.
    third = names[::3]
    two_thirds = [n for i, n in enumerate(names) if i % 3]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        large = [enlarged(p, folder, 2) for p in STILLS]
        common = asked(folder)

        def only(kept: list[str]) -> list[object]:
            return [a for n in names if n not in kept for a in ("--lock", n)]

        count = len(names)
        rows: list[tuple[str, str, int, int, list[object]]] = [
            ("6", "3840x2160", count, 1200, [*given(large), *common]),
            ("3", "3840x2160", count, 1200, [*given(large[:3]), *common]),
            ("1", "3840x2160", count, 1200, [*given(large[:1]), *common]),
            ("6", "1920x1080", count, 1200, [*given(STILLS), *common]),
            ("6", "1920x1080", len(two_thirds), 1200, [*given(STILLS), *common, *only(two_thirds)]),
            ("6", "1920x1080", len(third), 1200, [*given(STILLS), *common, *only(third)]),
            ("6", "1920x1080", count, 4800, [*given(STILLS), *common, "--samples", 4800]),
        ]
        print("| stills | size | parameters | samples | seconds | processor seconds | load |")
        print("| --- | --- | --- | --- | --- | --- | --- |")
        for some, size, free, samples, arguments in rows:
            wall, cpu = run("tune", LOOK, *arguments)
            load = os.getloadavg()[0]
            print(f"| {some} | {size} | {free} | {samples} | {wall:.1f} | {cpu:.1f} | {load:.1f} |", flush=True)


if __name__ == "__main__":
    main()
