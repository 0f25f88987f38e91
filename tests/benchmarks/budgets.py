"""Every budget in one table: what it must reach, what it reached here, and against which peer.

    python tests/benchmarks/budgets.py              # about 15 minutes on two cores; best on an idle machine
    python tests/benchmarks/budgets.py --stills 200 # a shorter batch
    python tests/benchmarks/budgets.py --out FILE   # also written as a Markdown page

The parts are the other benchmarks, which say more: main_job.py, fidelity_table.py, tune_cost.py, batch_stills.py.
Exit 1 where a budget is not met.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path

import batch_stills
import fidelity_table
import main_job
import tune_cost

Line = tuple[str, str, str, str, bool]
"""What, ours, peer (with the ratio), the budget, met."""


def machine() -> list[str]:
    """Processor and releases, for the head of the page."""
    import imageio_ffmpeg

    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        model = next(x.split(":", 1)[1].strip() for x in lines if x.startswith("model name"))
    except (OSError, StopIteration):
        model = platform.processor() or platform.machine()
    names = ("numpy", "scipy", "colour-science", "opencolorio", "openimageio", "pillow", "imageio-ffmpeg", "click")
    releases = ", ".join(f"{n} {version(n)}" for n in names)
    return [
        f"{os.cpu_count()} cores, {model}; {platform.system()} {platform.release()}; load before {os.getloadavg()[0]:.1f}",
        f"Python {platform.python_version()}, {releases}, FFmpeg {imageio_ffmpeg.get_ffmpeg_version()}",
    ]


def from_main_job() -> Iterator[Line]:
    """Start, baking, applying, previews."""
    for part in main_job.PARTS.values():
        for what, ours, peer, ratio, limit, met, _ in part():
            yield (
                what,
                f"{ours} ms" if peer != "-" else ours,
                f"{peer} ms: {ratio}" if peer != "-" else "-",
                limit,
                met == "yes",
            )


def from_fidelity() -> Iterator[Line]:
    """The night look, ACEScct in, at pixels of the sample stills that were not fitted to."""
    from lookwright.lut.fit.refine import refine, report

    pipeline = fidelity_table.fed_with(fidelity_table.ROOT / "looks/night-workshop.toml", "ACEScct", None)
    fitted, judged, cube = fidelity_table.samples()
    for size, most, far in ((33, 0.20, 0.9), (65, 0.05, None)):
        done = refine(pipeline, size, fitted)
        ours, plain = (report(pipeline, x, judged, cube)["stills"] for x in (done.lattice, done.plain))
        for lookup in fidelity_table.LOOKUPS:
            a, b = getattr(ours, lookup), getattr(plain, lookup)
            met = a.mean <= most
            limit = f"mean <= {most:g}"
            if far is not None:
                met = met and a.p99 <= far and a.mean <= 0.55 * b.mean
                limit += f", 99 % <= {far:g}, <= 0.55 of plain"
            yield (
                f"{size} points refined against exact, {lookup}: CIEDE2000",
                f"{a.mean:.3f}, 99 % {a.p99:.2f}",
                f"plain {b.mean:.3f}: {a.mean / b.mean:.2f}",
                limit,
                met,
            )


def from_tuning() -> Iterator[Line]:
    """Six stills of 3840 x 2160 and a reference, the command cold, three times."""
    with tempfile.TemporaryDirectory() as folder:
        arguments = tune_cost.six_large_stills(Path(folder))
        times = [tune_cost.run("tune", tune_cost.LOOK, *arguments)[0] for _ in range(3)]
    middle = statistics.median(times)
    yield (
        "tune, 6 stills of 4K and a reference, cold: seconds",
        f"{middle:.1f} ({min(times):.1f})",
        "-",
        "<= 10",
        middle <= 10,
    )


def from_batch(count: int) -> Iterator[Line]:
    """A season of stills; measured from a new process, because a child's peak memory begins with its parent's."""
    with ProcessPoolExecutor(1, get_context("spawn")) as fresh:
        found = fresh.submit(batch_stills.measured, count).result()
    yield (
        f"{count} stills, 1920x1080: peak memory, MiB",
        f"{found.whole.peak_mib:.0f}",
        "-",
        "<= 1536",
        found.whole.peak_mib <= 1536,
    )
    busy, of_rest = found.whole.busy
    yield (
        f"{count} stills: share of all cores (of what other work left)",
        f"{busy:.0%} ({of_rest:.0%})",
        "-",
        ">= 85 %",
        busy >= 0.85,
    )
    yield (
        f"{count} stills: pictures a second",
        f"{found.ours:.1f}",
        f"FFmpeg lut3d {found.peer:.1f}: {found.ours / found.peer:.2f}",
        "told",
        True,
    )
    yield (
        f"{count} stills: killed, then finished: the same pictures",
        "yes" if found.same else "NO",
        "-",
        "yes",
        found.same,
    )


def main() -> int:
    """Print the table line by line; write it at the end."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--stills", type=int, default=1000, help="stills in the batch")
    parser.add_argument("--out", type=Path, help="write the page to this file too")
    options = parser.parse_args()
    page = [
        *machine(),
        "",
        "Times: median (least).",
        "",
        "| work | ours | peer, ratio | must be | met |",
        "|---|---|---|---|---|",
    ]
    print("\n".join(page), flush=True)
    good = True
    for part in (from_main_job(), from_fidelity(), from_tuning(), from_batch(options.stills)):
        for what, ours, peer, limit, met in part:
            good &= met
            page.append(f"| {what} | {ours} | {peer} | {limit} | {'yes' if met else 'NO'} |")
            print(page[-1], flush=True)
    if options.out:
        options.out.write_text("\n".join(page) + "\n", encoding="utf-8")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
