"""The budgets of the main job against peers in the same run, by hand: python tests/benchmarks/main_job.py

Every line is a ratio of two things timed alternately on this machine (ours, peer, ours, peer, ...), so that a busy
machine slows both. Medians of the rounds are compared; the least times stand beside them, because other work can
only make a run slower. Processor time (all threads, children included) hardly feels other work: on a machine with
other work the wall times of two threads against one say little, and the processor times what an idle one would do.
Give a name (help, cold, bake, apply, preview) to measure that alone.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import bytecode
import numpy as np

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks/night-workshop.toml"
STILL = ROOT / "sample_images/wide_acescct.png"
WIDTH, HEIGHT = 3840, 2160

Row = tuple[str, ...]


@dataclass
class Times:
    """Seconds of each round: by the clock, and of processors."""

    wall: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)

    def measure(self, call: Callable[[], Any], repeats: int = 1) -> None:
        """Time ``call``; the mean of ``repeats``."""
        before, start = processor_seconds(), time.perf_counter()
        for _ in range(repeats):
            call()
        self.wall.append((time.perf_counter() - start) / repeats)
        self.processor.append((processor_seconds() - before) / repeats)

    def words(self) -> str:
        """Median (least) milliseconds."""
        return f"{statistics.median(self.wall) * 1e3:.1f} ({min(self.wall) * 1e3:.1f})"


def processor_seconds() -> float:
    """Of this process with all its threads, and of the children that have ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)


def alternate(ours: Callable[[], Any], peer: Callable[[], Any], rounds: int) -> tuple[Times, Times]:
    """Both, in turns; the first round of both warms up and is not counted."""
    mine, theirs = Times(), Times()
    for number in range(rounds + 1):
        for call, kept in ((ours, mine), (peer, theirs)):
            (kept if number else Times()).measure(call)
    return mine, theirs


def row(what: str, mine: Times, theirs: Times, limit: float, faster: bool = False) -> Row:
    """One line of the table: ``faster`` counts the peer's time over ours (at least), else ours over it (at most)."""
    pair = (theirs, mine) if faster else (mine, theirs)
    ratio, least = (f(pair[0].wall) / f(pair[1].wall) for f in (statistics.median, min))
    good = ratio >= limit if faster else ratio <= limit
    a, b = (statistics.median(t.processor) * 1e3 for t in (mine, theirs))
    return (
        what,
        mine.words(),
        theirs.words(),
        f"{ratio:.2f} ({least:.2f})",
        f"{'>=' if faster else '<='} {limit:g}",
        "yes" if good else "NO",
        f"{a:.0f} / {b:.0f}",
    )


def python(*arguments: str) -> Callable[[], None]:
    """A fresh interpreter."""
    command = [sys.executable, *arguments]

    def call() -> None:
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    return call


def bench_help() -> list[Row]:
    mine, theirs = alternate(python("-m", "lookwright", "--help"), python("-c", "import click"), 15)
    return [row("`--help` against `import click`", mine, theirs, 2.5)]


def bench_cold() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        bake = python("-m", "lookwright", "bake", str(LOOK), "--out", f"{folder}/a.cube", "--quiet")
        mine, theirs = alternate(bake, python("-c", "import colour"), 7)
    return [row("bake 33 cold, with print, against `import colour`", mine, theirs, 2.0)]


def bench_bake() -> list[Row]:
    from lookwright.look.baking.bake import bake
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import read_look

    rows = []
    for path in sorted((ROOT / "looks").glob("*.toml")):
        pipeline = compile_look(read_look(path))
        bake(pipeline, 17)
        times = []
        for _ in range(5):
            start = time.perf_counter()
            bake(pipeline, 65)
            times.append((time.perf_counter() - start) / 65**3 * 1e6)
        middle = statistics.median(times)
        rows.append(
            (
                f"bake 65 warm, {path.stem}: microseconds a point",
                f"{middle:.2f} ({min(times):.2f})",
                "-",
                "-",
                "<= 10",
                "yes" if middle <= 10 else "NO",
                "-",
            )
        )
    return rows


def frame() -> np.ndarray:
    """A 3840 x 2160 float32 frame: the wide sample, doubled, with its own fine noise."""
    from lookwright.pictures.stills import read

    small = read(STILL).pixels
    big = np.repeat(np.repeat(small, 2, axis=0), 2, axis=1)[:HEIGHT, :WIDTH]
    noise = np.random.default_rng(7).standard_normal(big.shape, np.float32) * np.float32(0.002)
    return np.clip(np.ascontiguousarray(big) + noise, 0, 1)


class Ffmpeg:
    """``lut3d`` on one planar float frame, repeated inside FFmpeg so that reading it in is not timed.

    Seconds a frame are the difference of a long and a short run of the same command, over the frames between.
    """

    def __init__(self, cube: Path, pixels: np.ndarray, threads: int) -> None:
        import imageio_ffmpeg

        self.raw = cube.with_suffix(".raw")
        pixels.transpose(2, 0, 1)[[1, 2, 0]].astype("<f4").tofile(self.raw)
        self.start = [
            imageio_ffmpeg.get_ffmpeg_exe(),
            "-v",
            "error",
            "-filter_threads",
            str(threads),
            "-f",
            "rawvideo",
            "-pix_fmt",
            "gbrpf32le",
            "-s",
            f"{WIDTH}x{HEIGHT}",
            "-i",
            str(self.raw),
            "-vf",
        ]
        self.cube = cube

    def run(self, frames: int) -> None:
        """A whole run over ``frames`` copies of the frame."""
        chain = f"loop=loop={frames - 1}:size=1,lut3d={self.cube.name}:interp=tetrahedral"
        subprocess.run([*self.start, chain, "-f", "null", "-"], check=True, cwd=self.cube.parent)

    def measure(self, times: Times, frames: int = 20) -> None:
        """What one frame takes in ``lut3d``."""
        long, short = Times(), Times()
        long.measure(lambda: self.run(frames + 2))
        short.measure(lambda: self.run(2))
        times.wall.append(max(long.wall[0] - short.wall[0], 1e-6) / frames)
        times.processor.append(max(long.processor[0] - short.processor[0], 1e-6) / frames)


def bench_apply() -> list[Row]:
    import PyOpenColorIO as ocio

    from lookwright.look.baking.bake import baked
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import read_look
    from lookwright.lut.formats.cube import write_cube
    from lookwright.lut.lattices.apply import Applier, ocio_transform

    lattice = baked(compile_look(read_look(LOOK)), LOOK.read_text(encoding="utf-8"))
    pixels = frame()
    alpha = np.ones((HEIGHT, WIDTH, 1), np.float32)
    four = np.concatenate([pixels, alpha], axis=2)
    cpu = (
        ocio.Config.CreateRaw()
        .getProcessor(ocio_transform(lattice))
        .getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
    )
    place4 = four.copy()
    applier = Applier(lattice)

    def peer(source: np.ndarray, target: np.ndarray) -> None:
        channels = source.shape[-1]
        cpu.apply(
            ocio.PackedImageDesc(source, WIDTH, HEIGHT, channels), ocio.PackedImageDesc(target, WIDTH, HEIGHT, channels)
        )

    def peer_in_place() -> None:
        cpu.apply(ocio.PackedImageDesc(place4, WIDTH, HEIGHT, 4))

    rows = []
    mine3, theirs3 = alternate(lambda: applier(pixels), lambda: peer(pixels, np.empty_like(pixels)), 11)
    what = "apply RGB 3840x2160, a new picture, all threads, against OpenColorIO, one thread"
    rows.append(row(what, mine3, theirs3, 1.8, True))
    mine4, theirs4 = alternate(lambda: applier.rgba(four), lambda: peer(four, np.empty_like(four)), 11)
    rows.append(row("apply RGBA, a new picture, against OpenColorIO", mine4, theirs4, 1.8, True))
    # Frame after frame one keeps the array written to: fresh memory costs either side as much as a third.
    kept, theirs_kept = np.empty_like(pixels), np.empty_like(pixels)
    mine6, theirs6 = alternate(lambda: applier(pixels, out=kept), lambda: peer(pixels, theirs_kept), 11)
    rows.append(row("apply RGB, into a kept array, against OpenColorIO into one", mine6, theirs6, 1.8, True))
    mine7, theirs7 = alternate(lambda: applier(pixels, no_nan=True, out=kept), lambda: peer(pixels, theirs_kept), 11)
    rows.append(row("the same, known to be free of NaN (from an integer file)", mine7, theirs7, 1.8, True))
    mine5, theirs5 = alternate(lambda: applier.apply_inplace_rgba(place4), peer_in_place, 11)
    rows.append(row("apply RGBA, in place, against OpenColorIO", mine5, theirs5, 1.8, True))
    rows.append(_codes_row(applier, pixels))
    with tempfile.TemporaryDirectory() as folder:
        cube = Path(folder) / "a.cube"
        write_cube(cube, lattice)
        ffmpeg = Ffmpeg(cube, pixels, os.cpu_count() or 1)
        for what, call in (
            ("apply RGB against FFmpeg lut3d, planar float, whole machine", lambda: applier(pixels)),
            ("apply RGB, into a kept array, free of NaN, against FFmpeg", lambda: applier(pixels, True, kept)),
            ("apply RGBA, in place, free of NaN, against FFmpeg", lambda: applier.apply_inplace_rgba(place4, True)),
            ("apply RGBA, a new picture, against FFmpeg", lambda: applier.rgba(four)),
            ("apply RGBA, in place, against FFmpeg", lambda: applier.apply_inplace_rgba(place4)),
        ):
            mine, theirs = Times(), Times()
            call()
            for _ in range(5):
                ffmpeg.measure(theirs)
                mine.measure(call, 20)
            rows.append(row(what, mine, theirs, 1.0, True))
    return rows


def _codes_row(applier: Any, pixels: np.ndarray) -> Row:
    """16-bit codes in, 8-bit codes out, against the same by way of float pictures; all arrays kept on both sides."""
    from lookwright.pictures.stills.quantise import VALUES, quantise

    codes = np.rint(pixels * 65535).astype(np.uint16)
    signal, graded = np.empty_like(pixels), np.empty_like(pixels)
    made, by_float = np.empty(codes.shape, np.uint8), np.empty(codes.shape, np.uint8)
    rows = max(1, VALUES // (3 * WIDTH))

    def long_way() -> None:
        np.divide(codes, np.float32(65535), out=signal, dtype=np.float32)
        applier(signal, True, graded)
        for top in range(0, HEIGHT, rows):
            quantise(graded[top : top + rows], 8, by_float[top : top + rows])

    mine, theirs = alternate(lambda: applier.coded(codes, made), long_way, 11)
    assert np.array_equal(made, by_float)
    return row("apply 16-bit codes in, 8-bit codes out, against the float path", mine, theirs, 1.2, True)


def bench_preview() -> list[Row]:
    """A 16-bit PNG of 3840 x 2160 to JPEG, against OpenImageIO's decode and Pillow's encode with nothing between.

    First one still of many as the command makes it (codes to codes, one thread), the look being ready; then the whole
    command for a single still, look and lattice included.
    """
    import io

    import OpenImageIO as oiio
    from PIL import Image

    from lookwright.app.cli import main as command_line
    from lookwright.look.baking.viewing import View
    from lookwright.look.recipe.read import read_look
    from lookwright.pictures.stills import profile_for, read_codes, write

    with tempfile.TemporaryDirectory() as folder:
        still = Path(folder) / "big.png"
        write(still, frame())
        view = View(read_look(LOOK), threads=1)
        icc = profile_for(view.output.encoding.name, view.output.primaries.name)
        eight = np.rint(np.clip(view.graded(frame()), 0, 1) * 255).astype(np.uint8)

        def ours() -> None:
            coded = read_codes(still)
            assert coded is not None
            write(Path(folder) / "graded.jpg", view.graded_codes(coded.codes), icc=icc)

        def whole() -> None:
            # A new folder each time: what is there already is not made again.
            target = tempfile.mkdtemp(dir=folder)
            try:
                command_line(["preview", str(LOOK), "--stills", str(still), "--out", target, "--quiet"])
            except SystemExit as exc:
                assert exc.code == 0
            assert len(list(Path(target).glob("*.jpg"))) == 1

        def peer() -> None:
            source = oiio.ImageInput.open(str(still))
            source.read_image(0, 0, 0, 3, "uint16")
            source.close()
            held = io.BytesIO()
            # The same quality and sampling as our writer.
            Image.fromarray(eight).save(held, "JPEG", quality=92, subsampling=0)
            (Path(folder) / "bare.jpg").write_bytes(held.getvalue())

        rows = []
        for what, call in (("one of many", ours), ("the whole command, one still", whole)):
            mine, theirs = alternate(call, peer, 7)
            rows.append(row(f"preview 4K 16-bit PNG to JPEG, {what}, against bare codecs", mine, theirs, 1.15))
        return rows


PARTS = {"help": bench_help, "cold": bench_cold, "bake": bench_bake, "apply": bench_apply, "preview": bench_preview}


def main(names: list[str]) -> None:
    """Print the table."""
    bytecode.keep()
    print(f"{os.cpu_count()} cores; load before: {os.getloadavg()[0]:.2f}. Milliseconds: median (least).\n")
    print("| work | ours | peer | ratio: medians (least) | must be | met | processor ms, ours / peer |")
    print("|---|---|---|---|---|---|---|")
    for name in names or PARTS:
        for line in PARTS[name]():
            print("| " + " | ".join(line) + " |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
