"""A whole season of stills: memory, cores, throughput against FFmpeg's lut3d in the same run, kill and resume.

    python tests/benchmarks/batch_stills.py [COUNT]        # 1000 when left out

Twenty different 1920x1080 16-bit PNG stills, shifted sample stills, under COUNT names. ``preview`` grades them to JPEG
(4:4:4) with the shipped night look. FFmpeg decodes the same PNGs, applies the same baked .cube by tetrahedra in planar
float (its quickest way) and writes JPEG, with its own threads. The two take turns over parts of the stills, so that
other work on the machine slows both.

"busy" is processor time of the program over the time of all cores, and over what other work left of them: on a
machine with other work only the second can reach its full share.
"""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import bytecode
import numpy as np

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "night-workshop.toml"
CORES = os.cpu_count() or 1
DIFFERENT = 20
PARTS = 4


@dataclass
class Ran:
    """What a process used."""

    wall: float
    processor: float
    peak_mib: float
    idle: float
    """Seconds, of all cores, in which nothing ran at all."""
    code: int

    @property
    def busy(self) -> tuple[float, float]:
        """Of all cores, and of what other work left of them."""
        return self.processor / (self.wall * CORES), self.processor / (self.processor + self.idle)


def idle_seconds() -> float:
    """Of all cores since the start of the machine (proc(5): idle and iowait)."""
    fields = Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:]
    return (int(fields[3]) + int(fields[4])) / os.sysconf("SC_CLK_TCK")


def ran(arguments: list[str], kill_when: Path | None = None, at: int = 0) -> Ran:
    """Run to the end, or kill without warning once the folder ``kill_when`` holds ``at`` pictures."""
    start, idle = time.perf_counter(), idle_seconds()
    process = subprocess.Popen(arguments, stdout=subprocess.DEVNULL)
    if kill_when is not None:
        while process.poll() is None and len(list(kill_when.glob("*.jpg"))) < at:
            time.sleep(0.02)
        process.send_signal(signal.SIGKILL)
        process.wait()
        return Ran(time.perf_counter() - start, 0.0, 0.0, 0.0, process.returncode)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    wall = time.perf_counter() - start
    used = usage.ru_utime + usage.ru_stime
    return Ran(wall, used, usage.ru_maxrss / 1024.0, idle_seconds() - idle, process.returncode)


def make(folder: Path, count: int) -> None:
    """COUNT names of DIFFERENT stills, in PARTS folders numbered for FFmpeg's reader."""
    from lookwright.pictures.stills import read, write

    samples = [read(p).pixels for p in sorted((ROOT / "sample_images").glob("*_acescct.png"))]
    originals = []
    for n in range(DIFFERENT):
        pixels = np.roll(samples[n % len(samples)], 97 * n, axis=1) + np.float32(n / 1023.0)
        originals.append(write(folder / f"original{n}.png", pixels))
    for n in range(count):
        part = folder / f"part{n % PARTS}"
        part.mkdir(exist_ok=True)
        os.link(originals[n % DIFFERENT], part / f"still{n // PARTS:05d}.png")


def hashes(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.glob("*.jpg"))}


@dataclass
class Batch:
    """What was measured."""

    ours: float
    """Stills a second."""
    peer: float
    our_processor: float
    """Seconds of processor a still."""
    peer_processor: float
    whole: Ran
    """All stills in one run."""
    made: int
    there: int
    """Pictures at the kill."""
    again: Ran
    """The run after the kill."""
    same: bool
    """Its pictures are those of the whole run, and nothing else lies there."""
    good: bool
    """Every process ended well."""


def measured(count: int) -> Batch:
    """The whole measurement; some minutes for a thousand stills."""
    import imageio_ffmpeg

    from lookwright.look.baking.viewing import View
    from lookwright.look.recipe.read import read_look
    from lookwright.lut.formats.cube import write_cube

    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        make(folder, count)
        view = View(read_look(LOOK))
        view.ready()
        write_cube(folder / "look.cube", view._lattice(view.look))

        def ours(stills: list[Path], out: Path) -> list[str]:
            named = [a for s in stills for a in ("--stills", str(s))]
            return [sys.executable, "-m", "lookwright", "preview", str(LOOK), *named, "--out", str(out), "--quiet"]

        def peer(part: Path, out: Path) -> list[str]:
            out.mkdir()
            chain = f"format=gbrpf32le,lut3d={folder}/look.cube:interp=tetrahedral,format=gbrp16le,format=yuvj444p"
            return [
                imageio_ffmpeg.get_ffmpeg_exe(),
                "-v",
                "error",
                "-nostdin",
                "-i",
                str(part / "still%05d.png"),
                "-vf",
                chain,
                "-q:v",
                "2",
                "-huffman",
                "default",
                str(out / "still%05d.jpg"),
            ]

        mine, theirs = [], []
        parts = [folder / f"part{n}" for n in range(PARTS)]
        for n, part in enumerate(parts):
            theirs.append(ran(peer(part, folder / f"ffmpeg{n}")))
            mine.append(ran(ours([part], folder / f"ours{n}")))
        whole = ran(ours(parts, folder / "whole"))
        first = hashes(folder / "whole")
        cut = folder / "cut"
        ran(ours(parts, cut), kill_when=cut, at=count * 2 // 5)
        there = len(hashes(cut))
        again = ran(ours(parts, cut))
        same = hashes(cut) == first and len(first) == count and not list(cut.glob(".writing-*"))
        return Batch(
            count / sum(r.wall for r in mine),
            count / sum(r.wall for r in theirs),
            sum(r.processor for r in mine) / count,
            sum(r.processor for r in theirs) / count,
            whole,
            len(first),
            there,
            again,
            same,
            all(r.code == 0 for r in (*mine, *theirs, whole, again)),
        )


def main() -> int:
    bytecode.keep()
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    b = measured(count)
    print(f"{count} stills, {CORES} cores, in {PARTS} turns each")
    print(f"  ours    {b.ours:6.2f} stills/s, {b.our_processor * 1e3:5.0f} ms of processor a still")
    print(f"  FFmpeg  {b.peer:6.2f} stills/s, {b.peer_processor * 1e3:5.0f} ms of processor a still")
    time_ratio, processor_ratio = b.ours / b.peer, b.peer_processor / b.our_processor
    print(f"  ours / FFmpeg: {time_ratio:.2f} in time, {processor_ratio:.2f} in processor time")
    busy, of_rest = b.whole.busy
    print(f"all in one run: {b.whole.wall:.0f} s, busy {busy:.0%}, {of_rest:.0%} of what others left (must be 85 %)")
    print(f"  peak memory {b.whole.peak_mib:.0f} MiB (must be <= 1536), {b.made} pictures")
    print(f"killed with {b.there} of {count} there, then finished in {b.again.wall:.0f} s: ", end="")
    print("the same pictures, nothing else" if b.same else "NOT the same")
    return 0 if b.good and b.same and b.whole.peak_mib <= 1536 else 1


if __name__ == "__main__":
    sys.exit(main())
