"""How time grows: baking with the lattice, applying with the picture, tuning with stills, samples and parameters,
batches with the number of stills, clips with frames, measuring and checking with stills.

    python tests/benchmarks/growth.py [bake|apply|batch|clip|read|tune]      # tune takes as long as all others

Prints machine, releases and Markdown tables. Each row is a ratio to the smallest of its table, beside the ratio of the
amounts of work: a time that grows as the work does has equal columns, one with a fixed part grows less. Rows are timed
in turns, so that other work on the machine slows all of them; medians of the rounds. Processor time (all threads,
children included) feels other work least.
"""

from __future__ import annotations

import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

import bytecode
import numpy as np
import tune_cost
import waits

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "night-workshop.toml"
STILL = ROOT / "sample_images" / "wide_acescct.png"
RELEASES = ("numpy", "scipy", "opencolorio", "openimageio", "colour-science", "pillow")

Job = Callable[[], object]


def processor() -> float:
    """Seconds of this process and of those it waited for."""
    both = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(u.ru_utime + u.ru_stime for u in both)


def medians(jobs: list[Job], rounds: int, warm: bool) -> list[tuple[float, float]]:
    """Median seconds and processor seconds of each job, the jobs taking turns; ``warm``: a first round is not counted."""
    times: list[list[tuple[float, float]]] = [[] for _ in jobs]
    for number in range(rounds + warm):
        for job, kept in zip(jobs, times, strict=True):
            start, used = time.perf_counter(), processor()
            job()
            if number >= warm:
                kept.append((time.perf_counter() - start, processor() - used))
    return [tuple(map(statistics.median, zip(*kept, strict=True))) for kept in times]  # type: ignore[misc]


def table(title: str, names: list[str], work: list[float], jobs: list[Job], rounds: int, warm: bool = True) -> None:
    print(f"\n**{title}** (medians of {rounds} rounds)\n")
    print("| amount | work | time | processor | seconds | processor seconds |\n|---|---:|---:|---:|---:|---:|")
    took = medians(jobs, rounds, warm)
    for name, amount, (seconds, used) in zip(names, work, took, strict=True):
        ratios = f"{amount / work[0]:.1f} | {seconds / took[0][0]:.1f} | {used / max(took[0][1], 1e-3):.1f}"
        print(f"| {name} | {ratios} | {seconds:.3f} | {used:.2f} |", flush=True)


def baking() -> None:
    from lookwright.look.baking.bake import bake
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import read_look

    pipeline = compile_look(read_look(LOOK))
    sizes = (9, 17, 33, 49, 65)
    jobs: list[Job] = [lambda n=n: bake(pipeline, n) for n in sizes]
    table("Baking against lattice size", [f"{n} points" for n in sizes], [float(n**3) for n in sizes], jobs, 3)


def applying() -> None:
    from lookwright.look.baking.bake import bake
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import read_look
    from lookwright.lut.lattices.apply import Applier
    from lookwright.pictures.stills import read

    applier = Applier(bake(compile_look(read_look(LOOK)), 33))
    still = read(STILL).pixels
    large = np.tile(still, (-(-4320 // still.shape[0]), -(-7680 // still.shape[1]), 1))
    sides = ((960, 540), (1920, 1080), (3840, 2160), (7680, 4320))
    pictures = [np.ascontiguousarray(large[:height, :width]) for width, height in sides]
    jobs: list[Job] = [lambda p=p: applier(p) for p in pictures]
    names = [f"{w * h / 1e6:.1f} Mpx" for w, h in sides]
    table("Applying a 33-point lattice against the picture", names, [float(w * h) for w, h in sides], jobs, 5)


def tuning() -> None:
    """The command with a reference, imports and reading included, as tune_cost.py measures it."""
    from lookwright.look.recipe.read import read_look
    from lookwright.solve.tune.free import free_parameters

    model = read_look(LOOK)
    names = [f.name for f in free_parameters(model)]
    with tempfile.TemporaryDirectory() as name:
        reference = Path(name) / "reference.png"
        subprocess.run(
            [
                sys.executable,
                "-m",
                "lookwright",
                "preview",
                str(ROOT / "looks" / "overcast.toml"),
                "--stills",
                str(next(p for p in tune_cost.STILLS if p.stem.startswith("day"))),
                "--format",
                "png",
                "--out",
                name,
            ],
            check=True,
            stdout=subprocess.DEVNULL,
        )
        next(Path(name).glob("*-overcast.png")).rename(reference)

        def tune(stills: int = 6, samples: int = 1200, parameters: int = len(names)) -> None:
            chosen = [a for p in tune_cost.STILLS[:stills] for a in ("--stills", p)]
            locked = [a for n in names[parameters:] for a in ("--lock", n)]
            tune_cost.run(
                "tune",
                LOOK,
                *chosen,
                "--reference",
                reference,
                "--samples",
                samples,
                *locked,
                "--out",
                f"{name}/new.toml",
                "--quiet",
            )

        counts = (1, 3, 6)
        jobs: list[Job] = [lambda c=c: tune(stills=c) for c in counts]
        table("Tuning against stills", [f"{c} still(s)" for c in counts], [float(c) for c in counts], jobs, 2, False)
        amounts = (600, 1200, 4800)
        jobs = [lambda a=a: tune(samples=a) for a in amounts]
        table("Tuning against samples", [f"{a} samples" for a in amounts], [float(a) for a in amounts], jobs, 2, False)
        free = (len(names) // 4, len(names) // 2, len(names))
        jobs = [lambda f=f: tune(parameters=f) for f in free]
        titles = [f"{f} parameters" for f in free]
        table("Tuning against free parameters", titles, [float(f) for f in free], jobs, 2, False)


def batching() -> None:
    from lookwright.pictures.stills import read, write

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
                [
                    sys.executable,
                    "-m",
                    "lookwright",
                    "preview",
                    str(LOOK),
                    "--stills",
                    str(folder / f"{count}"),
                    "--quiet",
                    "--out",
                    out,
                ],
                check=True,
                stdout=subprocess.DEVNULL,
            )

        jobs: list[Job] = [lambda c=c: preview(c) for c in counts]
        names = [f"{c} stills of 0.5 Mpx" for c in counts]
        table("The preview command, start included, against stills", names, [float(c) for c in counts], jobs, 3)


def command(*arguments: object) -> None:
    """A whole command, start included; a check that fails has been made all the same."""
    done = subprocess.run([sys.executable, "-m", "lookwright", *map(str, arguments)], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{arguments}: {done.stderr}")


def clips() -> None:
    counts = (12, 48, 144)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        waits.FRAMES = max(counts)
        waits._take(folder / "take.mov")

        def clip(count: int) -> None:
            end = count / 24.0 - 0.001
            command("clip", LOOK, folder / "take.mov", "--to", end, "--out", folder / "a.mp4", "--quiet")

        jobs: list[Job] = [lambda c=c: clip(c) for c in counts]
        names = [f"{c} frames of 1080p" for c in counts]
        table("The clip command, start included, against frames", names, [float(c) for c in counts], jobs, 2, False)


def reading() -> None:
    counts = (1, 3, 6)
    for title, words in (("measure", ["measure", "--look", LOOK]), ("check", ["check", LOOK, "--quiet"])):
        jobs: list[Job] = [
            lambda c=c, w=words: command(*w, *[a for p in tune_cost.STILLS[:c] for a in ("--stills", p)])
            for c in counts
        ]
        names = [f"{c} still(s)" for c in counts]
        table(f"The {title} command, start included, against stills", names, [float(c) for c in counts], jobs, 2, False)


def processor_name() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        return next(x.split(":", 1)[1].strip() for x in lines if x.startswith("model name"))
    except (OSError, StopIteration):
        return platform.processor() or platform.machine()


def main() -> None:
    bytecode.keep()
    chosen = {
        "bake": baking,
        "apply": applying,
        "batch": batching,
        "clip": clips,
        "read": reading,
        "tune": tuning,
    }
    releases = ", ".join(f"{name} {version(name)}" for name in RELEASES)
    print(f"{processor_name()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print(f"Python {platform.python_version()}, {releases}")
    for name in sys.argv[1:] or chosen:
        chosen[name]()


if __name__ == "__main__":
    main()
