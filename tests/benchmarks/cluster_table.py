"""Many small stills over worker processes of a Dask cluster on this machine; one worker is killed in the middle.

    python tests/benchmarks/cluster_table.py [COUNT] [WORKERS]      # 10000 and 3 when left out

Twenty different stills of 96x54 under COUNT names: so small that what the scheduler and the ledger cost shows. The same
are made first by the threads of one process. Told are the seconds of processors of each side a still (of the cluster:
the program that sends, the scheduler, and the workers apart), and whether every picture is there, whole, once.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import bytecode
import numpy as np

from lookwright.pictures.batch import LEDGER, UNFINISHED
from lookwright.pictures.stills import read, write

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "overcast.toml"
DIFFERENT = 20


def make_stills(folder: Path, count: int) -> None:
    """COUNT names, twenty contents."""
    sample = read(ROOT / "sample_images" / "day_acescct.png").pixels[::20, ::20]
    for n in range(DIFFERENT):
        write(folder / f"shot{n:06d}.png", np.ascontiguousarray(np.roll(sample, 5 * n, axis=1)))
    for n in range(DIFFERENT, count):
        shutil.copyfile(folder / f"shot{n % DIFFERENT:06d}.png", folder / f"shot{n:06d}.png")


def spent(process: int) -> float:
    """Processor seconds of a process so far (proc(5))."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def cluster(folder: Path, workers: int) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The address of a scheduler, and its process with those of the workers behind it."""
    file = folder / "scheduler.json"
    common = ["--scheduler-file", str(file), "--no-dashboard", "--host", "127.0.0.1"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": folder}
    start = [sys.executable, "-m", "distributed.cli.dask_scheduler", *common, "--port", "0"]
    processes = [subprocess.Popen(start, **quiet)]
    try:
        while not file.exists():
            time.sleep(0.05)
        one = [sys.executable, "-m", "distributed.cli.dask_worker", *common, "--nthreads", "1", "--no-nanny"]
        processes += [subprocess.Popen([*one, "--name", f"w{n}"], **quiet) for n in range(workers)]
        yield str(json.loads(file.read_text())["address"]), processes
    finally:
        for process in reversed(processes):
            process.terminate()
        for process in processes:
            try:
                process.wait(30)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def preview(stills: Path, out: Path, *more: str) -> subprocess.Popen[bytes]:
    """The command, begun."""
    words = [sys.executable, "-m", "lookwright", "preview", LOOK, "--stills", stills, "--out", out, "--quiet", *more]
    return subprocess.Popen([str(w) for w in words])


def finished(process: subprocess.Popen[bytes], kill: subprocess.Popen[bytes] | None, out: Path, at: int) -> float:
    """Wait; kill a worker without warning once so many pictures are there. Processor seconds of the program itself."""
    last = 0.0
    while process.poll() is None:
        last = spent(process.pid)
        if kill is not None and out.is_dir() and sum(1 for p in out.iterdir() if p.suffix == ".jpg") >= at:
            kill.send_signal(signal.SIGKILL)
            kill.wait()
            kill = None
        time.sleep(0.1)
    if process.returncode:
        raise SystemExit(f"exit {process.returncode}")
    return last


def digests(out: Path) -> dict[str, str]:
    """Each picture that is there."""
    whole = (p for p in out.glob("*.jpg") if not p.name.startswith(UNFINISHED))
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in whole}


def unfinished(out: Path) -> list[str]:
    """What is neither a picture nor the ledger."""
    return [p.name for p in out.iterdir() if p.name.startswith(UNFINISHED) or p.suffix not in (".jpg", ".jsonl")]


def main(count: int, workers: int) -> int:
    """Print the table; 1 where something is missing, twice, or otherwise than from one process."""
    bytecode.keep()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        stills, here, there = folder / "stills", folder / "here", folder / "there"
        stills.mkdir()
        make_stills(stills, count)
        begun = time.perf_counter()
        alone = finished(preview(stills, here), None, here, 0)
        of_one = time.perf_counter() - begun
        with cluster(folder, workers) as (address, (scheduler, *them)):
            before = [spent(p.pid) for p in them]
            begun = time.perf_counter()
            sent = finished(preview(stills, there, "--scheduler", address), them[0], there, count // 3)
            of_all = time.perf_counter() - begun
            managed = spent(scheduler.pid)
            worked = sum(spent(p.pid) - b for p, b in zip(them[1:], before[1:], strict=True))
        lines = [json.loads(line)["output"] for line in (there / LEDGER).read_text("utf-8").splitlines()]
        left, made = unfinished(there), digests(there)
        same = digests(here) == made
        begun = time.perf_counter()
        finished(preview(stills, there), None, there, 0)
        again = time.perf_counter() - begun
        tidy = not unfinished(there) and digests(there) == made
    print(
        f"{os.cpu_count()} cores, {count} stills of 96x54, {workers} workers of one thread, one killed after a third.\n"
    )
    print("| what | milliseconds of processors a still |\n|---|---|")
    print(f"| one process, its threads, everything ({of_one:.0f} s by the clock) | {1e3 * alone / count:.2f} |")
    print(f"| cluster: the program that sends ({of_all:.0f} s by the clock) | {1e3 * sent / count:.2f} |")
    print(f"| cluster: the scheduler, its start in it | {1e3 * managed / count:.2f} |")
    print(f"| cluster: the workers that were left | {1e3 * worked / count:.2f} |")
    once = len(lines) == len(set(lines)) == count
    print(f"\nEvery picture there: {len(lines)} of {count} in the ledger, each once: {'yes' if once else 'NO'}.")
    print(f"The same bytes as from one process: {'yes' if same else 'NO'}.")
    print(f"Left by the worker that was killed: {len(left)} half-written file(s).")
    print(f"The same command again ({again:.0f} s): nothing made anew, that removed: {'yes' if tidy else 'NO'}.")
    return 0 if once and same and tidy else 1


if __name__ == "__main__":
    given = [int(a) for a in sys.argv[1:]]
    sys.exit(main(*[*given, *(10_000, 3)[len(given) :]]))
