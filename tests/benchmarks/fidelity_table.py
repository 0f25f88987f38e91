"""How far LUTs are from their look: plain, refined and shaped lattices, as a Markdown table.

    python tests/benchmarks/fidelity_table.py looks/night-workshop.toml

The sample stills, re-encoded for every source; fitted to as many of their pixels as ``bake --refine`` draws, judged
at 60,000 others and at 60,000 colours spread over the cube that were not fitted to either. ``--bounds`` shows instead
what the bound on how much worse any colour may get costs at 33 points.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from lookwright.colour.spaces.signal import Signal
from lookwright.look.baking.bake import recipe_hash
from lookwright.look.recipe.model import SignalText
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.look.recipe.read import read_look
from lookwright.lut.fit.refine import Report, refine, report
from lookwright.lut.fit.shaper import ShapedLattice, refine_shaped, report_shaped
from lookwright.lut.lattices.samples import sample_stills, spread
from lookwright.pictures.stills import find_stills

ROOT = Path(__file__).parents[2]
SOURCES = (("ACEScct", None), ("S-Log3", "S-Gamut3.Cine"), ("LogC3", None))
LOOKUPS = ("trilinear", "tetrahedral")


def encoded(pixels: np.ndarray, source: Signal) -> np.ndarray:
    """ACEScct pixels as ``source`` would have carried the same light, clipped to 0..1."""
    scene = Signal.named("ACEScct").to_scene(pixels)
    return np.clip(source.from_scene(scene), 0.0, 1.0)


def fed_with(path: Path, name: str, primaries: str | None) -> Pipeline:
    """The look of ``path`` with another source."""
    look = read_look(path)
    return compile_look(look.model_copy(update={"source": SignalText(encoding=name, primaries=primaries)}))


def row(cells: Iterable[object]) -> None:
    print("| " + " | ".join(str(c) for c in cells) + " |")


def figures(reports: dict[str, Report | None], group: str, lookup: str) -> list[str]:
    cells = []
    for found in reports.values():
        if found is None:
            cells.append("")
            continue
        d = getattr(found[group], lookup)
        cells.append(f"{d.mean:.3f} / {d.p99:.2f} / {d.max:.1f}")
    return cells


def table(path: Path, sizes: list[int], fitted: np.ndarray, judged: np.ndarray, cube: np.ndarray) -> None:
    kinds = ("plain", "refined", "shaper, plain", "shaper, refined")
    row(("source", "points", "colours", "lookup", *kinds, "refined / plain", "shaped / plain", "s"))
    row(["---"] * 11)
    for name, primaries in SOURCES:
        pipeline = fed_with(path, name, primaries)
        train, test = encoded(fitted, pipeline.source), encoded(judged, pipeline.source)
        for size in sizes:
            begun = time.perf_counter()
            done = refine(pipeline, size, train)
            taken = time.perf_counter() - begun
            lut, behind = refine_shaped(pipeline, size, train)
            reports: dict[str, Report | None] = {
                "plain": report(pipeline, done.plain, test, cube),
                "refined": report(pipeline, done.lattice, test, cube),
                "shaped": report_shaped(pipeline, ShapedLattice(lut.shaper, behind.plain), test, cube),
                "both": report_shaped(pipeline, lut, test, cube),
            }
            for group in ("stills", "cube"):
                for lookup in LOOKUPS:
                    means = {k: getattr(r[group], lookup).mean for k, r in reports.items() if r}
                    shares = (means["refined"] / means["plain"], means["both"] / means["plain"])
                    cells = figures(reports, group, lookup)
                    row((name, size, group, lookup, *cells, *(f"{s:.2f}" for s in shares), f"{taken:.1f}"))


def bounds(path: Path, fitted: np.ndarray, judged: np.ndarray, cube: np.ndarray) -> None:
    pipeline = fed_with(path, *SOURCES[0])
    row(("bound", "measured worst", "stills trilinear", "stills tetrahedral", "cube trilinear", "cube tetrahedral"))
    row(["---"] * 6)
    for bound in (0.5, 1.0, 1.5, 2.0, 3.0, 100.0):
        done = refine(pipeline, 33, fitted, bound=bound)
        found = {"refined": report(pipeline, done.lattice, judged, cube)}
        cells = [figures(found, group, lookup)[0] for group in ("stills", "cube") for lookup in LOOKUPS]
        row((f"{bound:g}", f"{done.worst:.2f}", *cells))


def samples() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Colours to fit to, and to judge at: of the sample stills, and of the cube."""
    stills = find_stills([ROOT / "sample_images"])
    return sample_stills(stills), sample_stills(stills, 60_000, 11), spread(60_000, 3, 12)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("look", type=Path, nargs="?", default=ROOT / "looks/night-workshop.toml")
    parser.add_argument("--sizes", type=int, nargs="+", default=[17, 33, 65])
    parser.add_argument("--bounds", action="store_true")
    options = parser.parse_args()
    fitted, judged, cube = samples()
    text = options.look.read_text(encoding="utf-8")
    print(f"{options.look.name}, SHA-256 {recipe_hash(text)[:12]}; mean / 99th percentile / maximum of CIEDE2000;")
    print(f"time of refining on {os.cpu_count()} cores, under whatever else they did.\n")
    if options.bounds:
        bounds(options.look, fitted, judged, cube)
    else:
        table(options.look, options.sizes, fitted, judged, cube)


if __name__ == "__main__":
    main()
