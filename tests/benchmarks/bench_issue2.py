"""The budgets of the main job against peers in the same run, by hand: python tests/benchmarks/bench_issue2.py

Every line is a ratio of two things timed alternately on this machine (ours, peer, ours, peer, ...), so that a busy
machine slows both. Medians of the rounds are compared; the least times stand beside them, because other work can
only make a run slower. Give a name (help, cold, bake, apply, preview) to measure that alone.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks/night-workshop.toml"
STILL = ROOT / "sample_images/wide_acescct.png"
WIDTH, HEIGHT = 3840, 2160

Row = tuple[str, str, str, str, str, str]


def alternate(ours: Callable[[], Any], peer: Callable[[], Any], rounds: int) -> tuple[list[float], list[float]]:
    """Seconds of each, in turns; the first round of both warms up and is not counted."""
    mine: list[float] = []
    theirs: list[float] = []
    for number in range(rounds + 1):
        for call, kept in ((ours, mine), (peer, theirs)):
            start = time.perf_counter()
            call()
            taken = time.perf_counter() - start
            if number:
                kept.append(taken)
    return mine, theirs


def row(what: str, mine: list[float], theirs: list[float], limit: float, faster: bool = False) -> Row:
    """One line of the table: ``faster`` counts the peer's time over ours (at least), else ours over it (at most)."""
    a, b = statistics.median(mine), statistics.median(theirs)
    ratio = b / a if faster else a / b
    least = min(theirs) / min(mine) if faster else min(mine) / min(theirs)
    good = ratio >= limit if faster else ratio <= limit
    return (
        what,
        f"{a * 1e3:.1f} ({min(mine) * 1e3:.1f})",
        f"{b * 1e3:.1f} ({min(theirs) * 1e3:.1f})",
        f"{ratio:.2f} ({least:.2f})",
        f"{'>=' if faster else '<='} {limit:g}",
        "yes" if good else "NO",
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
    from lookwright.look.pipeline import compile_look
    from lookwright.look.read import read_look
    from lookwright.lut.bake import bake

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
            )
        )
    return rows


def frame() -> np.ndarray:
    """A 3840 x 2160 float32 frame: the wide sample, doubled, with its own fine noise."""
    from lookwright.stills import read

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
            imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-filter_threads", str(threads), "-f", "rawvideo",
            "-pix_fmt", "gbrpf32le", "-s", f"{WIDTH}x{HEIGHT}", "-i", str(self.raw), "-vf",
        ]  # fmt: skip
        self.cube = cube

    def run(self, frames: int, lut: bool) -> float:
        """Seconds of a whole run over ``frames`` copies of the frame, with or without the LUT."""
        chain = f"loop=loop={frames - 1}:size=1" + (f",lut3d={self.cube.name}:interp=tetrahedral" if lut else "")
        start = time.perf_counter()
        subprocess.run([*self.start, chain, "-f", "null", "-"], check=True, cwd=self.cube.parent)
        return time.perf_counter() - start

    def seconds(self, frames: int = 20) -> float:
        """Seconds one frame takes in ``lut3d``."""
        return max((self.run(frames + 2, True) - self.run(2, True)) / frames, 1e-6)


def bench_apply() -> list[Row]:
    import PyOpenColorIO as ocio

    from lookwright.look.pipeline import compile_look
    from lookwright.look.read import read_look
    from lookwright.lut.apply import Applier, ocio_transform
    from lookwright.lut.bake import baked
    from lookwright.lut.cube import write_cube

    lattice = baked(compile_look(read_look(LOOK)), LOOK.read_text(encoding="utf-8"))
    pixels = frame()
    alpha = np.ones((HEIGHT, WIDTH, 1), np.float32)
    four = np.concatenate([pixels, alpha], axis=2)
    cpu = (
        ocio.Config.CreateRaw()
        .getProcessor(ocio_transform(lattice))
        .getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
    )
    # Both write a new picture; the peer's is made once, which is in its favour.
    out3, out4 = np.empty_like(pixels), np.empty_like(four)
    applier = Applier(lattice)

    def peer3() -> None:
        cpu.apply(ocio.PackedImageDesc(pixels, WIDTH, HEIGHT, 3), ocio.PackedImageDesc(out3, WIDTH, HEIGHT, 3))

    def peer4() -> None:
        cpu.apply(ocio.PackedImageDesc(four, WIDTH, HEIGHT, 4), ocio.PackedImageDesc(out4, WIDTH, HEIGHT, 4))

    rows = []
    mine3, theirs3 = alternate(lambda: applier(pixels), peer3, 11)
    rows.append(row("apply RGB 3840x2160, all threads, against OpenColorIO RGB, one thread", mine3, theirs3, 1.8, True))
    mine4, theirs4 = alternate(lambda: applier.rgba(four), peer4, 11)
    rows.append(row("apply RGBA, a new picture", mine4, theirs4, 1.8, True))
    mine5, theirs5 = alternate(lambda: applier.apply_inplace_rgba(out4), peer4, 11)
    rows.append(row("apply RGBA, in place", mine5, theirs5, 1.8, True))
    with tempfile.TemporaryDirectory() as folder:
        cube = Path(folder) / "a.cube"
        write_cube(cube, lattice)
        ffmpeg = Ffmpeg(cube, pixels, os.cpu_count() or 1)
        for what, call in (
            ("apply RGB against FFmpeg lut3d, planar float, whole machine", lambda: applier(pixels)),
            ("apply RGBA, a new picture, against FFmpeg", lambda: applier.rgba(four)),
            ("apply RGBA, in place, against FFmpeg", lambda: applier.apply_inplace_rgba(out4)),
        ):
            mine, theirs = [], []
            for _ in range(5):
                theirs.append(ffmpeg.seconds())
                start = time.perf_counter()
                for _ in range(20):
                    call()
                mine.append((time.perf_counter() - start) / 20)
            rows.append(row(what, mine, theirs, 1.0, True))
    return rows


def bench_preview() -> list[Row]:
    """A warm preview of one 16-bit PNG of 3840 x 2160 to JPEG, against OpenImageIO's decode and Pillow's encode."""
    import io

    import OpenImageIO as oiio
    from PIL import Image

    from lookwright.cli.pictures import write_previews
    from lookwright.look.read import read_look
    from lookwright.lut.viewing import View
    from lookwright.stills import write

    rows = []
    with tempfile.TemporaryDirectory() as folder:
        still = Path(folder) / "big.png"
        write(still, frame())
        view = View(read_look(LOOK))
        graded = view.graded(frame())
        eight = np.rint(graded * 255).astype(np.uint8)

        def ours() -> None:
            write_previews(view, "night", [still], Path(folder), "graded", "jpg", 0.5, lambda n: None)

        def peer() -> None:
            source = oiio.ImageInput.open(str(still))
            source.read_image(0, 0, 0, 3, "uint16")
            source.close()
            held = io.BytesIO()
            # The same quality and sampling as our writer.
            Image.fromarray(eight).save(held, "JPEG", quality=92, subsampling=0)
            (Path(folder) / "bare.jpg").write_bytes(held.getvalue())

        mine, theirs = alternate(ours, peer, 7)
        rows.append(row("preview 4K 16-bit PNG to JPEG, against bare decode and encode", mine, theirs, 1.5))
    return rows


PARTS = {"help": bench_help, "cold": bench_cold, "bake": bench_bake, "apply": bench_apply, "preview": bench_preview}


def main(names: list[str]) -> None:
    """Print the table."""
    print(f"{os.cpu_count()} cores; load before: {os.getloadavg()[0]:.2f}. Milliseconds: median (least).\n")
    print("| work | ours | peer | ratio: medians (least) | must be | met |")
    print("|---|---|---|---|---|---|")
    for name in names or PARTS:
        for line in PARTS[name]():
            print("| " + " | ".join(line) + " |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
