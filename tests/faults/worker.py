"""Reads files in a process of its own, within bounds, and tells what came of each.

    python tests/faults/worker.py SECONDS < lines of "reader path-in-hexadecimal"

One line of JSON on standard output for each file: ``[outcome, words, seconds, peak MiB]``. Outcomes: "read" (and
finite), "refused" (a LookwrightError of one line), or a fault: "crashed" (any other exception), "lines" (a message of
several lines), "infinite" (numbers that are not finite), "printed" (anything on standard error). A file that takes too
much processor time, or waits for twelve times as long, ends the process by the default action of SIGPROF or SIGALRM,
which C code cannot hold up; the file after the last line told is to blame.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

SECONDS = 5
ADDRESS_SPACE = 2 << 30
MOST_MIB = 1024

READERS = (
    "recipe",
    "marks",
    "cube",
    "clf",
    "cc",
    "ccc",
    "cdl",
    "png",
    "tif",
    "exr",
    "dpx",
    "jpg",
    "webp",
    "hald",
    "mp4",
)
MORE = ("ledger",)
"""Read by the program, but never refused: what cannot be used is passed over."""


class Told(NamedTuple):
    outcome: str
    words: str
    seconds: float
    peak_mib: float


def run(jobs: Sequence[tuple[str, Path]], seconds: int = SECONDS) -> list[Told]:
    """Read all files, with a new process after each one that ends it; a result for every job, in order."""
    told: list[Told] = []
    while len(told) < len(jobs):
        rest = jobs[len(told) :]
        lines = "".join(f"{reader} {os.fsencode(path).hex()}\n" for reader, path in rest).encode()
        with tempfile.TemporaryFile() as said, tempfile.TemporaryFile() as noise:
            done = subprocess.run(
                [sys.executable, __file__, str(seconds)], input=lines, stdout=said, stderr=noise, check=False
            )
            said.seek(0)
            ready, *answers = said.read().splitlines() or [b""]
            noise.seek(0)
            last = noise.read().decode("utf-8", "replace")
        assert ready == b"ready", last
        told += [Told(*json.loads(line)) for line in answers]
        if len(told) < len(jobs):
            outcome = "hung" if -done.returncode in (signal.SIGPROF, signal.SIGALRM) else "died"
            told.append(Told(outcome, f"exit {done.returncode} {last[-300:]}", float(seconds), 0.0))
    return told


# ---------------------------------------------------------------- within the process


def _readers() -> dict[str, Callable[[Path], Any]]:
    import numpy as np

    # Each imports what it needs when it is first called: a process that reads DPX needs no colour library.

    def recipe(path: Path) -> Any:
        from lookwright.colour.spaces.library import colour_library
        from lookwright.look.recipe.read import read_look

        colour_library()
        read_look(path)
        return np.zeros(1)

    def marks(path: Path) -> Any:
        from lookwright.pictures.stills.marks import read_marks

        found = [m for ms in read_marks(path).values() for m in ms]
        return np.array([(*m.box, m.level or 0.0) for m in found], np.float64)

    # Ends, middle, neighbours of the ends and outside: what a lookup or a formula is tried with.
    probe = np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0], [0.18, 0.5, 0.75], [-0.5, 0.001, 2.0], [1e-7, 0.999, 60.0]])

    def lut(path: Path) -> Any:
        import PyOpenColorIO  # noqa: F401

        from lookwright.lut.formats.read import read_lut

        return read_lut(path)(probe, "tetrahedral")

    def corrections(path: Path) -> Any:
        from lookwright.lut.formats.cdl import read_cdl

        # Collections are read for their numbers; what a wild power makes of a colour is read_lut's to refuse.
        return np.array([(*c.slope, *c.offset, *c.power, c.saturation) for c in read_cdl(path)])

    def still(path: Path) -> Any:
        from lookwright.pictures.stills import read

        found = read(path)
        assert found.pixels.ndim == 3 and found.pixels.dtype == np.float32
        return found.pixels

    def hald(path: Path) -> Any:
        from lookwright.lut.formats.hald import read_hald

        return read_hald(path).table

    def clip(path: Path) -> Any:
        from itertools import islice

        from lookwright.pictures.clips.read import all_frames, frames_each, read_clip

        found = read_clip(path, "BT.709")
        taken = [f.pixels for f in islice(frames_each(found, 0.1), 5)]
        return np.concatenate([p.ravel() for p in (*taken, *(f.pixels for f in islice(all_frames(found), 5)))])

    def ledger(path: Path) -> Any:
        import os

        from lookwright.pictures import batch

        batch.LEDGER = path.name
        if not os.path.lexists(path):
            return np.zeros(1)
        found = batch.Ledger(path.parent)
        found.has(path.with_name("shot.jpg"), "k")
        return np.zeros(1)

    return {
        "mp4": clip,
        "ledger": ledger,
        "recipe": recipe,
        "marks": marks,
        "cube": lut,
        "clf": lut,
        "cc": lut,
        "ccc": corrections,
        "cdl": lut,
        "png": still,
        "tif": still,
        "exr": still,
        "dpx": still,
        "jpg": still,
        "webp": still,
        "hald": hald,
    }


def _one(read: Callable[[Path], Any], path: Path) -> tuple[str, str]:
    import numpy as np

    from lookwright.errors import LookwrightError

    try:
        numbers = read(path)
        return ("read", "") if np.isfinite(numbers).all() else ("infinite", "")
    except LookwrightError as exc:
        # A recipe with several faults has one line for each.
        for fault in getattr(exc, "faults", [exc]):
            if not str(fault).isprintable() or not fault.got:
                return "lines", repr(str(fault))[:300]
        return "refused", exc.line()[:300]
    except Exception:
        return "crashed", traceback.format_exc()[-700:]


def main() -> None:
    jobs = [line.split() for line in sys.stdin]
    readers = _readers()
    for name in {reader for reader, _ in jobs}:
        _one(readers[name], Path("no such file"))  # what is imported late is not charged to the first file
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE, ADDRESS_SPACE))
    seconds = int(sys.argv[1])
    noise = os.fstat(2).st_size
    print("ready", flush=True)
    for reader, name in jobs:
        # On a busy machine a quick reader takes long, so processor time counts; but a pipe is waited for without any.
        signal.setitimer(signal.ITIMER_PROF, seconds)
        signal.alarm(12 * seconds)
        start = time.process_time()
        outcome, words = _one(readers[reader], Path(os.fsdecode(bytes.fromhex(name))))
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.alarm(0)
        took = time.process_time() - start
        now = os.fstat(2).st_size
        if now > noise and outcome in ("read", "refused"):
            outcome = "printed"
        noise = now
        peak = _peak_mib()
        print(json.dumps([outcome, words, round(took, 3), round(peak, 1)]), flush=True)


def _peak_mib() -> float:
    """Most memory of this program. Not what getrusage tells, which counts the process it was started from too."""
    try:
        told = Path("/proc/self/status").read_text(encoding="ascii")
        return int(told.split("VmHWM:")[1].split()[0]) / 1024
    except (OSError, IndexError):
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
