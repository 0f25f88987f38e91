"""How time grows: baking with the lattice, applying with the picture, previews with the number of stills.

    python tests/benchmarks/growth.py [bake|apply|preview]

Prints Markdown tables. Each row is a ratio to the smallest of its table, beside the ratio of the amounts of work: a
time that grows as the work does has equal columns, one with a fixed part grows less. Rows are timed in turns, so that
other work on the machine slows all of them; medians of the rounds.
"""

from __future__ import annotations

import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "night-workshop.toml"
STILL = ROOT / "sample_images" / "wide_acescct.png"


def medians(jobs: list[Callable[[], object]], rounds: int) -> list[float]:
    """Median seconds of each job, the jobs taking turns; a first round is not counted."""
    times: list[list[float]] = [[] for _ in jobs]
    for number in range(rounds + 1):
        for job, kept in zip(jobs, times, strict=True):
            start = time.perf_counter()
            job()
            if number:
                kept.append(time.perf_counter() - start)
    return [statistics.median(kept) for kept in times]


def table(title: str, names: list[str], work: list[float], jobs: list[Callable[[], object]], rounds: int) -> None:
    print(f"\n**{title}** (medians of {rounds} rounds)\n\n| amount | work | time | seconds |\n|---|---:|---:|---:|")
    took = medians(jobs, rounds)
    for name, amount, seconds in zip(names, work, took, strict=True):
        print(f"| {name} | {amount / work[0]:.1f} | {seconds / took[0]:.1f} | {seconds:.3f} |", flush=True)


def baking() -> None:
    from lookwright.look.pipeline import compile_look
    from lookwright.look.read import read_look
    from lookwright.lut.bake import bake

    pipeline = compile_look(read_look(LOOK))
    sizes = (9, 17, 33, 49, 65)
    jobs: list[Callable[[], object]] = [lambda n=n: bake(pipeline, n) for n in sizes]
    table("Baking against lattice size", [f"{n} points" for n in sizes], [float(n**3) for n in sizes], jobs, 3)


def applying() -> None:
    from lookwright.look.pipeline import compile_look
    from lookwright.look.read import read_look
    from lookwright.lut.apply import Applier
    from lookwright.lut.bake import bake
    from lookwright.stills import read

    applier = Applier(bake(compile_look(read_look(LOOK)), 33))
    still = read(STILL).pixels
    large = np.tile(still, (-(-4320 // still.shape[0]), -(-7680 // still.shape[1]), 1))
    sides = ((960, 540), (1920, 1080), (3840, 2160), (7680, 4320))
    pictures = [np.ascontiguousarray(large[:height, :width]) for width, height in sides]
    jobs: list[Callable[[], object]] = [lambda p=p: applier(p) for p in pictures]
    names = [f"{w * h / 1e6:.1f} Mpx" for w, h in sides]
    table("Applying a 33-point lattice against the picture", names, [float(w * h) for w, h in sides], jobs, 5)


def previewing() -> None:
    from lookwright.stills import read, write

    counts = (2, 8, 32)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        still = read(STILL).pixels[:540, :960]
        for count in counts:
            (folder / f"{count}").mkdir()
            for number in range(count):
                write(folder / f"{count}" / f"s{number:03d}.png", np.roll(still, 7 * number, axis=1))

        def preview(count: int) -> None:
            # A new folder each time: of many stills what is finished already would be left out.
            out = tempfile.mkdtemp(dir=folder)
            subprocess.run(
                [sys.executable, "-m", "lookwright", "preview", str(LOOK), "--stills", str(folder / f"{count}"),
                 "--quiet", "--out", out],
                check=True, stdout=subprocess.DEVNULL,
            )  # fmt: skip

        jobs: list[Callable[[], object]] = [lambda c=c: preview(c) for c in counts]
        names = [f"{c} stills of 0.5 Mpx" for c in counts]
        table("The preview command, start included, against stills", names, [float(c) for c in counts], jobs, 3)


def main() -> None:
    chosen = {"bake": baking, "apply": applying, "preview": previewing}
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, numpy {np.__version__}")
    for name in sys.argv[1:] or chosen:
        chosen[name]()


if __name__ == "__main__":
    main()
