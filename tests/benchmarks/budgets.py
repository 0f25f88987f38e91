"""Every budget in one table: what it must reach, what it reached here, and against which peer.

    python tests/benchmarks/budgets.py              # about 25 minutes on two cores; best on an idle machine
    python tests/benchmarks/budgets.py --stills 200 # a shorter batch
    python tests/benchmarks/budgets.py --out FILE   # also written as a Markdown page

The parts are the other benchmarks, which say more: main_job.py, lattice_table.py, waits.py, batch_stills.py.
Exit 1 where a budget is not met.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path

import batch_stills
import bytecode
import lattice_table
import main_job
import waits

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


def from_lattices(table: lattice_table.Table) -> Iterator[Line]:
    """The night look, ACEScct in: what refining gains on content that it never saw, and what it costs."""
    for size, seconds in ((33, 3.0), (65, 12.0)):
        plain, ours, taken = table.compared("night-workshop", "ACEScct", size)
        yield (f"{size} points, refining: seconds", f"{taken:.1f}", "-", f"<= {seconds:g}", taken <= seconds)
        for kind in lattice_table.LOOKUPS:
            for name in lattice_table.SETS:
                (m0, p0, _), (m1, p1, three) = plain.by_set[name, kind], ours.by_set[name, kind]
                mean, far = 1.0, 1.0
                if size == 33 and name == "photographs":
                    mean, far = lattice_table.MOST_PHOTOGRAPHS[kind]
                if size == 33 and name == "stills":
                    mean = lattice_table.MOST_STILLS[kind]
                natural = size == 33 and name in lattice_table.NATURAL
                met = m1 <= mean * m0 and p1 <= far * p0 and (three < lattice_table.MOST_3SD or not natural)
                yield (
                    f"{size} points refined, {name}, {kind}: CIEDE2000, mean / 99 %",
                    f"{m1:.3f} / {p1:.2f}" + (f", mean + 3 sd {three:.2f}" if natural else ""),
                    f"plain {m0:.3f} / {p0:.2f}: {m1 / m0:.2f}, {p1 / p0:.2f}",
                    f"<= {mean:g}, {far:g} of plain" + (f"; < {lattice_table.MOST_3SD:g}" if natural else ""),
                    met,
                )
        rough = max(b / a for a, b in zip(plain.rough, ours.rough, strict=True))
        yield (f"{size} points refined: roughness over plain", f"{rough:.2f}", "-", "<= 1.2", rough <= 1.2)
        folds = all(b <= a for a, b in zip(plain.folds, ours.folds, strict=True))
        yield (f"{size} points refined: no more folds than plain", "yes" if folds else "NO", "-", "yes", folds)


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
        ">= 1.1",
        found.ours >= 1.1 * found.peer,
    )
    yield (
        f"{count} stills: killed, then finished: the same pictures",
        "yes" if found.same else "NO",
        "-",
        "yes",
        found.same,
    )


def from_waits() -> Iterator[Line]:
    """What people wait for."""
    for part in waits.PARTS.values():
        yield from part()


def main() -> int:
    """Print the table line by line; write it at the end."""
    bytecode.keep()
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--stills", type=int, default=1000, help="stills in the batch")
    parser.add_argument("--images", type=Path, help="folder with the photographs of lattice_table.py")
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
    table = lattice_table.Table(options.images)  # photographs that are missing are told before anything is measured
    parts = (from_main_job(), from_lattices(table), from_waits(), from_batch(options.stills))
    for part in parts:
        for what, ours, peer, limit, met in part:
            good &= met
            page.append(f"| {what} | {ours} | {peer} | {limit} | {'yes' if met else 'NO'} |")
            print(page[-1], flush=True)
    if options.out:
        options.out.write_text("\n".join(page) + "\n", encoding="utf-8")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
