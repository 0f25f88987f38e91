"""What people wait for: whole commands, cold, beside a peer in the same run or a number of seconds.

    python tests/benchmarks/waits.py                 # every row, some ten minutes
    python tests/benchmarks/waits.py clip starts     # some: clip, starts, stills, solvers, demo

Wall time is the least of the rounds: other work can only make a run slower. Processor seconds (all threads, children
included) stand beside it; on a busy machine they say more. ``budgets.py`` prints the rows with all the others.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import bytecode
import numpy as np
import tune_cost
from main_job import Times

from lookwright.lut.formats.cdl import Correction, write_cdl
from lookwright.pictures.stills import read, write

ROOT = Path(__file__).parents[2]
LOOKS, STILLS = ROOT / "looks", ROOT / "sample_images"
NIGHT = LOOKS / "night-workshop.toml"
FRAMES = 240
"""Of the clip: ten seconds, so that the start of either side counts for little."""

Line = tuple[str, str, str, str, bool]
"""What, ours, peer (with the ratio), the budget, met: as in budgets.py."""


def command(*arguments: object, codes: Sequence[int] = (0, 1)) -> None:
    """The program in a fresh process."""
    done = subprocess.run([sys.executable, "-m", "lookwright", *map(str, arguments)], capture_output=True, text=True)
    if done.returncode not in codes:
        raise SystemExit(f"{arguments}: {done.stderr}")


def words(times: Times) -> str:
    """Least seconds by the clock, and of processors."""
    return f"{min(times.wall):.2f} s ({min(times.processor):.2f} of processors)"


def within(what: str, limit: float, *arguments: object, rounds: int = 3) -> Line:
    """A command that must not take longer than so many seconds."""
    times = Times()
    for _ in range(rounds):
        times.measure(lambda: command(*arguments))
    return what, words(times), "-", f"<= {limit:g} s", min(times.wall) <= limit


def starts() -> Iterator[Line]:
    """Short commands and the commonest slips, against importing numpy."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        faulty = folder / "faulty.toml"
        faulty.write_text(NIGHT.read_text(encoding="utf-8").replace('kind = "print"', 'kind = "prnt"'), "utf-8")
        new = folder / "new.toml"
        rows: list[tuple[str, float, list[object]]] = [
            ("`encodings`", 2.0, ["encodings"]),
            ("`show LOOK`", 3.0, ["show", NIGHT]),
            ("`new FILE`", 3.0, ["new", new]),
            ("a look that is not there, in one line", 2.0, ["check", folder / "none.toml"]),
            ("an unknown step, in one line", 2.0, ["check", faulty]),
        ]
        for what, limit, arguments in rows:
            ours, peer = Times(), Times()
            for number in range(8):
                new.unlink(missing_ok=True)
                for times, call in (
                    (ours, lambda arguments=arguments: command(*arguments, codes=(0, 2))),
                    (peer, lambda: subprocess.run([sys.executable, "-c", "import numpy"], check=True)),
                ):
                    (times if number else Times()).measure(call)
            ratio = min(ours.processor) / min(peer.processor)
            said = f"`import numpy` {words(peer)}: {ratio:.2f} of its processor time"
            yield what, words(ours), said, f"<= {limit:g}", ratio <= limit
    yield within("`check` without stills", 0.6, "check", LOOKS / "everyday-daylight.toml", "--quiet")
    yield within("the same with advice on a print", 0.6, "check", LOOKS / "overcast.toml", "--quiet")


def _take(path: Path) -> None:
    """A pan over a sample still with a camera's noise: 1080p, 10-bit 4:2:2, ProRes, by FFmpeg."""
    import imageio_ffmpeg

    still = read(STILLS / "wide_acescct.png").pixels
    big = np.concatenate([still, still[:, ::-1]], axis=1)
    noise = np.random.default_rng(1).normal(0.0, 1.5 / 1023.0, still.shape).astype(np.float32)
    chain = "scale=out_color_matrix=bt709:out_range=tv:flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp"
    tags = "setparams=colorspace=bt709:range=tv:color_primaries=bt709:color_trc=bt709"
    head = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb48le"]
    head += ["-s", "1920x1080", "-r", "24", "-i", "-", "-vf", f"{chain},format=yuv422p10le,{tags}"]
    with subprocess.Popen([*head, "-c:v", "prores_ks", "-profile:v", "3", str(path)], stdin=subprocess.PIPE) as pipe:
        assert pipe.stdin is not None
        for n in range(FRAMES):
            frame = big[:, 4 * n : 4 * n + 1920] + np.roll(noise, 37 * n, axis=0)
            pipe.stdin.write(np.rint(np.clip(frame, 0.0, 1.0) * 65535.0).astype("<u2").tobytes())


def clip() -> Iterator[Line]:
    """The whole command against an FFmpeg command with the same lattice and the same settings of the encoder."""
    import imageio_ffmpeg

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _take(folder / "take.mov")
        command("bake", LOOKS / "overcast.toml", "--out", folder / "a.cube", "--quiet")
        chain = (
            "zscale=matrixin=709:matrix=gbr:rangein=limited:range=full,format=gbrpf32le,"
            "lut3d=a.cube:interp=tetrahedral,"
            "zscale=matrixin=gbr:matrix=709:rangein=full:range=limited,format=yuv420p"
        )
        peer = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", "-i", "take.mov", "-vf", chain, "-an"]
        peer += ["-c:v", "libx264", "-crf", "16", "-movflags", "+faststart", "peer.mp4"]
        ours = ("clip", LOOKS / "overcast.toml", folder / "take.mov", "--out", folder / "ours.mp4", "--quiet")
        mine, theirs = Times(), Times()
        for _ in range(3):
            mine.measure(lambda: command(*ours))
            theirs.measure(lambda: subprocess.run(peer, check=True, cwd=folder))
    ratio = min(theirs.wall) / min(mine.wall)
    of_processors = min(theirs.processor) / min(mine.processor)
    said = f"FFmpeg, zscale and float lut3d {words(theirs)}: {ratio:.2f}, {of_processors:.2f} of processor time"
    yield f"clip, {FRAMES} frames of 1080p 10-bit 4:2:2 to H.264", words(mine), said, ">= 0.85", ratio >= 0.85


def stills() -> Iterator[Line]:
    """Six stills of 4K."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        large = folder / "large"
        large.mkdir()
        for path in tune_cost.STILLS:
            tune_cost.enlarged(path, large, 2)
        look = ("--look", NIGHT)
        yield within("check, six stills of 4K", 1.8, "check", NIGHT, "--stills", large, "--quiet")
        yield within("measure, six stills of 4K, with a look", 6.0, "measure", "--stills", large, *look)
        out = ("--out", folder / "sheets")
        yield within("the same with sheets", 9.0, "measure", "--stills", large, *look, *out)
        out = ("--out", folder / "delivery", "--quiet")
        yield within("deliver, six stills of 4K, all files", 11.0, "deliver", NIGHT, "--stills", large, *out)
        told = tune_cost.asked(folder)
        given = tune_cost.given(sorted(large.iterdir()))
        yield within("tune, six stills of 4K and a reference", 3.5, "tune", NIGHT, *given, *told)


def demo() -> Iterator[Line]:
    """README's first line once installed, by processor seconds: half of what edcf320 took on the same machine."""
    times = Times()
    with tempfile.TemporaryDirectory() as name:
        for number in range(5):
            out = Path(name) / str(number)
            times.measure(lambda out=out: command("demo", "--out", out, "--quiet"))
    yield "README's first line once installed", words(times), "-", "<= 4.1 s of processors", min(times.processor) <= 4.1


def _graded_elsewhere(source: Path, target: Path) -> Path:
    """The still through a look, and then through what no step of a look does."""
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import read_look

    seen = compile_look(read_look(NIGHT))(read(source).pixels.astype(np.float64))
    mean = seen.mean(axis=-1, keepdims=True)
    turned = 0.04 * np.sin(3.0 * seen[..., ::-1]) * seen * (1.0 - seen) * np.array([1.0, -0.3, 0.5])
    write(target, np.clip(mean + (seen - mean) * (1.15 - 0.5 * mean) + turned, 0, 1).astype(np.float32), depth="16")
    return target


def solvers() -> Iterator[Line]:
    """Learning from two pairs in HD, and explaining a LUT."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pairs: list[object] = []
        for still in ("wide", "day"):
            before = STILLS / f"{still}_acescct.png"
            pairs += ["--pair", before, _graded_elsewhere(before, folder / f"{still}.png")]
        out = ("--out", folder / "learnt.toml", "--quiet")
        yield within("learn, tuning included, two pairs of HD", 12.0, "learn", LOOKS / "overcast.toml", *pairs, *out)
        slope = folder / "slope.cc"
        write_cdl(slope, [Correction((1.1, 1.0, 0.9), (0.0, 0.0, 0.0), (1.0, 1.0, 1.0), 1.0, "a")])
        signals = ("--source", "ACEScct", "--output", "ACEScct")
        out = ("--out", folder / "why.toml", "--quiet", "--force")
        yield within("explain a plain slope", 7.0, "recover", slope, *signals, *out)


PARTS = {"starts": starts, "clip": clip, "stills": stills, "solvers": solvers, "demo": demo}


def main(names: list[str]) -> None:
    """Print the table."""
    bytecode.keep()
    print(f"{os.cpu_count()} cores; load before: {os.getloadavg()[0]:.2f}.\n")
    print("| work | ours | peer, ratio | must be | met |\n|---|---|---|---|---|")
    for name in names or PARTS:
        for *line, met in PARTS[name]():
            print("| " + " | ".join(line) + f" | {'yes' if met else 'NO'} |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
