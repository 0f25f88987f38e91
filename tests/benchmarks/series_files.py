"""What a series is handed on as, read by the libraries that others would use: a table.

    python tests/benchmarks/series_files.py [LOOK] [--source ENCODING] [--size 33]

A list of 40 shots out and in again (OpenTimelineIO); one .cube a shot through FFmpeg and OpenColorIO, against the same
lattice and, apart, against the exact CDL and look; an OpenColorIO configuration of 1,000 shots.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import opentimelineio as otio
import PyOpenColorIO as ocio

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))
from series_forms import corrections, edl, through_ffmpeg

from lookwright.jobs.given import SignalName
from lookwright.jobs.looks import load_look
from lookwright.jobs.series_files import Handed, write_shots, write_timeline
from lookwright.look.baking.bake import bake
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import grid
from lookwright.lut.lattices.samples import spread
from lookwright.pictures.stills import read

ROOT = Path(__file__).parents[2]
SHOTS = corrections(1000)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("look", nargs="?", type=Path, default=ROOT / "looks" / "night-workshop.toml")
    parser.add_argument("--source", default="ACEScct")
    parser.add_argument("--size", type=int, default=33)
    given = parser.parse_args()
    look, text = load_look(given.look, source=SignalName(given.source))
    with tempfile.TemporaryDirectory() as folder:
        timelines(Path(folder))
        cubes(Path(folder), look, text, given.size)
        configuration(Path(folder), look, text, given.size)


def timelines(folder: Path) -> None:
    """40 shots out and in again."""
    shots = SHOTS[:40]
    text = edl([c.id for c in shots])
    path = folder / "ep1.edl"
    path.write_bytes(text.encode())
    (folder / "out").mkdir()
    start = time.perf_counter()
    done = write_timeline(folder / "out", path, dict(enumerate(shots)))
    seconds = time.perf_counter() - start
    written = (folder / "out" / "ep1.edl").read_bytes().decode()
    rest = "".join(x for x in written.splitlines(True) if not x.startswith("* ASC_S"))
    print(f"40 shots into an EDL of {text.count(chr(10))} lines and an .otio: {seconds:.2f} s, notes {done.notes}")
    print(
        f"  without its {written.count('* ASC_S')} CDL lines the text is the user's own, byte for byte: {rest == text}"
    )
    for name, adapter in (("ep1.edl", "cmx_3600"), ("ep1.otio", "otio_json")):
        clips = otio.adapters.read_from_file(str(folder / "out" / name), adapter).find_clips()
        found = [c.metadata["cdl"] for c in clips if "cdl" in c.metadata]
        worst = 0.0
        for values, c in zip(found, shots, strict=True):
            sop = values["asc_sop"]
            numbers = [*sop["slope"], *sop["offset"], *sop["power"], values["asc_sat"]]
            worst = max(worst, float(np.abs(np.array(numbers) - [*c.slope, *c.offset, *c.power, c.saturation]).max()))
        print(f"  OpenTimelineIO {otio.__version__} reads {len(found)} CDLs in {name}, largest difference {worst:.1g}")


def cubes(folder: Path, look: object, text: str, size: int) -> None:
    """One .cube a shot: against its own lattice by three readers, and against CDL then look."""
    shots = SHOTS[:40]
    pipeline = compile_look(look)  # type: ignore[arg-type]
    start = time.perf_counter()
    done = write_shots(folder / "out", look, text, View(look), shots, Handed(True, False, size))  # type: ignore[arg-type]
    print(f"40 cubes of {size} points and .cdl, each read again: {time.perf_counter() - start:.1f} s")
    still = read(ROOT / "sample_images" / "close_acescct.png").pixels[::9, ::9].reshape(-1, 3).astype(np.float64)
    still = still[: len(still) // 512 * 512]
    names = ("on the lattice's points", "FFmpeg", "OpenColorIO", "cube, even spread", "cube, a still")
    worst = {n: [] for n in names}
    for c in shots:
        path = done.cubes[c.id]
        lattice = read_cube(path).lattice
        points = grid(size).reshape(-1, 3)
        worst[names[0]].append(np.abs(lattice.table.reshape(-1, 3) - pipeline.run(c(points))).max())
        even = spread(8192, 3, 5)
        ours = lookup(lattice, even)
        worst["FFmpeg"].append(np.abs(through_ffmpeg(path, even) - ours).max())
        transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
        processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
        found = even.astype(np.float32).copy()
        processor.apply(ocio.PackedImageDesc(found, len(found), 1, 3))
        worst["OpenColorIO"].append(np.abs(found - ours).max())
        worst["cube, even spread"].append(np.abs(ours - pipeline.run(c(even))).mean())
        left = np.abs(through_ffmpeg(path, still) - pipeline.run(c(still)))
        worst["cube, a still"].append((left.mean(), np.percentile(left, 99)))
    print(f"  against CDL then look, on its own points: {max(worst[names[0]]):.1e}")
    print(
        f"  against the same lattice, 8,192 colours: FFmpeg {max(worst['FFmpeg']):.1e}, OpenColorIO {max(worst['OpenColorIO']):.1e}"
    )
    still_mean, still_p99 = np.max(worst["cube, a still"], axis=0)
    print(f"  the lattice's own error against CDL then look, worst shot: even spread mean {max(worst[names[3]]):.1e};")
    print(f"    a still through FFmpeg mean {still_mean:.1e}, 99 % {still_p99:.1e}")


def configuration(folder: Path, look: object, text: str, size: int) -> None:
    """1,000 shots under one look."""
    view = View(look)  # type: ignore[arg-type]
    start = time.perf_counter()
    write_shots(folder / "config", look, text, view, SHOTS, Handed(False, True, size))  # type: ignore[arg-type]
    print(f"1,000 .cdl and the configuration: {time.perf_counter() - start:.1f} s")
    path = folder / "config" / "ocio" / "config.ocio"
    lattice = bake(view.pipeline, size)
    points = spread(8192, 3, 5)
    times, worst, usual, direct = [], 0.0, 0.0, 0.0
    for c in SHOTS[::50]:
        ocio.ClearAllCaches()
        start = time.process_time()
        config = ocio.Config.CreateFromFile(str(path))
        config.validate()
        display = config.getDefaultDisplay()
        context = ocio.Context(str(path.parent), [config.getSearchPath()], {"SHOT": c.id})
        transform = ocio.DisplayViewTransform(
            config.getRoleColorSpace("compositing_log"), display, config.getDefaultView(display)
        )
        processor = config.getProcessor(context, transform, ocio.TRANSFORM_DIR_FORWARD).getDefaultCPUProcessor()
        times.append(time.process_time() - start)
        wanted = lookup(lattice, c(points))
        usual = max(usual, off(processor, points, wanted))
        worst = max(
            worst, off(exact(config.getProcessor(context, transform, ocio.TRANSFORM_DIR_FORWARD)), points, wanted)
        )
        luts = path.parent / "luts"
        one, other = ocio.FileTransform(str(luts / "series.ccc"), c.id), ocio.FileTransform(str(luts / "graded.clf"))
        other.setInterpolation(ocio.INTERP_TETRAHEDRAL)
        plain = config.getProcessor(ocio.GroupTransform([one, other])).getDefaultCPUProcessor()
        direct = max(direct, off(plain, points, wanted))
    print(
        f"  load, validate and build a shot's processor, caches empty: median {np.median(times):.3f} s of processor, "
        f"worst {max(times):.3f} s; {np.median(times) / lut_alone(path.parent / 'luts' / 'graded.clf'):.1f} times as long "
        "as reading the look's LUT alone"
    )
    print(f"  largest difference from CDL then lattice, 8,192 colours, 20 shots: {worst:.1e};")
    print(
        f"    with the arithmetic that hosts use by default {usual:.1e}; the two files without a configuration {direct:.1e}"
    )


def lut_alone(path: Path) -> float:
    """Seconds of processor for one LUT, caches empty: the median of five."""
    times = []
    for _ in range(5):
        ocio.ClearAllCaches()
        start = time.process_time()
        ocio.Config.CreateRaw().getProcessor(ocio.FileTransform(str(path)))
        times.append(time.process_time() - start)
    return float(np.median(times))


def exact(processor: object) -> object:
    """Without the fast powers that are OpenColorIO's default."""
    return processor.getOptimizedCPUProcessor(  # type: ignore[attr-defined]
        ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS
    )


def off(processor: object, points: np.ndarray, wanted: np.ndarray) -> float:
    """The largest difference."""
    found = points.astype(np.float32).copy()
    processor.apply(ocio.PackedImageDesc(found, len(found), 1, 3))  # type: ignore[attr-defined]
    return float(np.abs(found - wanted).max())


if __name__ == "__main__":
    main()
