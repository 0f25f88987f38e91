"""How far plain and refined lattices are from their look, on content that they never saw, as a Markdown table.

    python tests/benchmarks/lattice_table.py                       # three looks, 17/33/65 points, two sources: half an hour or more
    python tests/benchmarks/lattice_table.py --sizes 33 --looks night-workshop
    python tests/benchmarks/lattice_table.py --images FOLDER       # where the photographs lie, if not installed

Each lattice is refined on the sample stills and judged at other pixels of them, at a still that another fit did not
see (in turn each of the six), at eight photographs of others, at the same with chroma x 1.5, and on sweeps of saturated
colour (lattice_content.py). A cell holds mean / 99th percentile of CIEDE2000 and, in brackets, both over those of the
plainly sampled lattice. Folds count tetrahedra that are turned inside out by more than the last digit of a .cube; roughness
is the root mean square of second differences in CIELAB, of neighbouring lattice points and along fine ramps.
The last table is of 33 points behind the curve of a CLF. Exit 1 where a limit is not kept.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import lattice_content as content
import numpy as np

from lookwright.colour.difference import ciede2000
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import SignalText
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.look.recipe.read import read_look
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.fit.folds import base_of_cells, determinants, flat_volume
from lookwright.lut.fit.refine import refine
from lookwright.lut.fit.shaper import refine_shaped
from lookwright.lut.lattices.interpolate import linear, lookup
from lookwright.lut.lattices.lattice import Curves, Lattice, grid
from lookwright.lut.lattices.samples import sample_stills
from lookwright.pictures.stills import find_stills

LOOKS = ("night-workshop", "everyday-daylight", "overcast")
SOURCES = {"ACEScct": None, "S-Log3": "S-Gamut3.Cine"}
LOOKUPS = ("trilinear", "tetrahedral")
SETS = ("stills", "left out", "photographs", "chroma x 1.5", "sweeps")
NATURAL = SETS[:4]
MOST_PHOTOGRAPHS = {"trilinear": (0.85, 0.90), "tetrahedral": (0.90, 0.90)}
MOST_STILLS = {"trilinear": 0.65, "tetrahedral": 0.75}
MOST_ROUGH, MOST_3SD, MOST_3SD_SHAPED = 1.2, 1.0, 0.75


@dataclass(frozen=True)
class Figures:
    """Of one lattice: by set and lookup mean, 99 % and, for codes of 10 bits, mean + 3 standard deviations."""

    by_set: dict[tuple[str, str], tuple[float, float, float]]
    folds: tuple[float, float]
    """Share of tetrahedra of the cube, and of natural colours."""
    rough: tuple[float, ...]
    """Lattice points; ramps trilinear, tetrahedral."""


class Judge:
    """One look with one source, and what it makes of the content."""

    def __init__(self, pipeline: Pipeline, sets: dict[str, np.ndarray]) -> None:
        self.pipeline, self.to_lab = pipeline, lab_of(pipeline.output)
        encode = pipeline.source.from_scene
        self.points = {name: np.clip(encode(scene), 0.0, 1.0) for name, scene in sets.items()}
        self.wanted = {name: self.to_lab(pipeline(points)) for name, points in self.points.items()}
        ramps = content.ramps()
        self.ramps, self.shape = np.clip(encode(ramps.reshape(-1, 3)), 0.0, 1.0), ramps.shape

    def add(self, name: str, scene: np.ndarray) -> None:
        self.points[name] = np.clip(self.pipeline.source.from_scene(scene), 0.0, 1.0)
        self.wanted[name] = self.to_lab(self.pipeline(self.points[name]))

    def differences(
        self, lattice: Lattice, name: str, kind: str, curve: Curves | None = None
    ) -> tuple[float, float, float]:
        points = self.points[name] if curve is None else linear(curve, self.points[name])
        found = lookup(lattice, points, kind)
        exact = ciede2000(self.wanted[name], self.to_lab(found))
        coded = ciede2000(self.wanted[name], self.to_lab(np.round(found * 1023.0) / 1023.0))
        return float(exact.mean()), float(np.percentile(exact, 99)), float(coded.mean() + 3.0 * coded.std())

    def figures(self, lattice: Lattice, names: tuple[str, ...]) -> Figures:
        by_set = {(n, k): self.differences(lattice, n, k) for n in names for k in LOOKUPS}
        return Figures(by_set, self.folds(lattice), self.rough(lattice))

    def folds(self, lattice: Lattice) -> tuple[float, float]:
        size = lattice.size
        low = base_of_cells(size)
        turned = determinants(np.round(lattice.table.reshape(-1, 3), 6), size, low) < -flat_volume(size)
        centres = grid(size).reshape(-1, 3)[low] + 0.5 / (size - 1)
        core = content.core(self.pipeline.source.to_scene(centres))
        return float(turned.mean()), float(turned[core].mean())

    def rough(self, lattice: Lattice) -> tuple[float, ...]:
        size = lattice.size
        lab = self.to_lab(lattice.table.reshape(-1, 3)).reshape(lattice.table.shape)
        core = content.core(self.pipeline.source.to_scene(grid(size).reshape(-1, 3))).reshape((size,) * 3)
        squares = []
        for axis in range(3):
            v, inside = np.moveaxis(lab, axis, 0), np.moveaxis(core, axis, 0)[1:-1]
            squares.append(((v[2:] - 2.0 * v[1:-1] + v[:-2]) ** 2).sum(axis=-1)[inside])
        out = [float(np.sqrt(np.concatenate(squares).mean()))]
        for kind in LOOKUPS:
            lab = self.to_lab(lookup(lattice, self.ramps, kind)).reshape(self.shape)
            bend = np.linalg.norm(lab[:, 2:] - 2.0 * lab[:, 1:-1] + lab[:, :-2], axis=-1)
            out.append(float(np.sqrt((bend**2).mean())))
        return tuple(out)


def row(*cells: object) -> None:
    print("| " + " | ".join(str(c) for c in cells) + " |", flush=True)


def pipeline_of(look: str, source: str) -> Pipeline:
    model = read_look(content.ROOT / f"looks/{look}.toml")
    text = SignalText(encoding=source, primaries=SOURCES[source])
    return compile_look(model.model_copy(update={"source": text}))


class Table:
    """All that is printed, and what falls short."""

    def __init__(self, images: Path | None) -> None:
        self.stills = content.stills()
        photographs = np.concatenate(list(content.photographs(images).values()))
        self.sets = {
            "stills": np.concatenate(list(self.stills.values())),
            "photographs": photographs,
            "chroma x 1.5": content.more_chroma(photographs),
            "sweeps": content.sweeps(),
        }
        drawn = sample_stills(find_stills([content.ROOT / "sample_images"]))
        self.fitted = Signal.named("ACEScct").to_scene(drawn)
        self.short: list[str] = []
        self.seen: dict[str, list[float]] = {kind: [] for kind in LOOKUPS}
        self.turn = 0

    def hold(self, what: str, found: float, most: float) -> None:
        if not found <= most:
            self.short.append(f"{what}: {found:.3f}, limit {most:g}")

    def compared(self, look: str, source: str, size: int) -> tuple[Figures, Figures, float]:
        """Figures of the plain and of the refined lattice, and the seconds that refining took."""
        judge = Judge(pipeline_of(look, source), self.sets)
        given = np.clip(judge.pipeline.source.from_scene(self.fitted), 0.0, 1.0)
        begun = time.perf_counter()
        done = refine(judge.pipeline, size, given)
        taken = time.perf_counter() - begun
        left = self.turn % len(given)
        self.turn += 1
        judge.add("left out", self.stills[list(self.stills)[left]])
        other = refine(judge.pipeline, size, np.delete(given, left, axis=0))
        plain, ours = judge.figures(done.plain, SETS), judge.figures(done.lattice, SETS)
        for kind in LOOKUPS:
            ours.by_set["left out", kind] = judge.differences(other.lattice, "left out", kind)
        return plain, ours, taken

    def one(self, look: str, source: str, size: int) -> None:
        plain, ours, taken = self.compared(look, source, size)
        case = f"{look} {source} {size}"
        for kind in LOOKUPS:
            row(look, source, size, kind, *self.cells(case, plain, ours, kind), *self.rest(plain, ours, kind, taken))
        self.limits(case, plain, ours)

    def cells(self, case: str, plain: Figures, ours: Figures, kind: str) -> Iterator[str]:
        for name in SETS:
            (m0, p0, _), (m1, p1, _) = plain.by_set[name, kind], ours.by_set[name, kind]
            self.hold(f"{case} {kind} {name} mean over plain", m1 / m0, 1.0)
            self.hold(f"{case} {kind} {name} 99 % over plain", p1 / p0, 1.0)
            yield f"{m1:.3f} / {p1:.2f} ({m1 / m0:.2f}, {p1 / p0:.2f})"

    def rest(self, plain: Figures, ours: Figures, kind: str, taken: float) -> Iterator[str]:
        before, after = (max(f.by_set[n, kind][2] for n in NATURAL) for f in (plain, ours))
        yield f"{before:.2f} -> {after:.2f}"
        if kind == LOOKUPS[0]:
            yield f"{100 * plain.folds[0]:.3f} -> {100 * ours.folds[0]:.3f}"
            yield f"{100 * plain.folds[1]:.3f} -> {100 * ours.folds[1]:.3f}"
            yield ", ".join(f"{b / a:.2f}" for a, b in zip(plain.rough, ours.rough, strict=True))
            yield f"{taken:.1f}"
        else:
            yield from ("", "", "", "")

    def limits(self, case: str, plain: Figures, ours: Figures) -> None:
        for a, b, where in zip(plain.folds, ours.folds, ("cube", "core"), strict=True):
            self.hold(f"{case} folds of the {where}", b, a)
        for a, b in zip(plain.rough, ours.rough, strict=True):
            self.hold(f"{case} roughness", b / a, MOST_ROUGH)
        if not case.endswith(" 33"):
            return
        for kind in LOOKUPS:
            share = [[b / a for a, b in zip(plain.by_set[n, kind], ours.by_set[n, kind], strict=True)] for n in SETS]
            self.seen[kind].append(share[0][0])
            for found, most in zip(share[2], MOST_PHOTOGRAPHS[kind], strict=False):
                self.hold(f"{case} {kind} photographs over plain", found, most)
            for name in NATURAL:
                self.hold(f"{case} {kind} {name} mean + 3 sd, 10 bits", ours.by_set[name, kind][2], MOST_3SD)

    def shaped(self, look: str, source: str) -> None:
        judge = Judge(pipeline_of(look, source), self.sets)
        given = np.clip(judge.pipeline.source.from_scene(self.fitted), 0.0, 1.0)
        lut, _ = refine_shaped(judge.pipeline, 33, given)
        for kind in LOOKUPS:
            cells = []
            for name in self.sets:
                mean, p99, three = judge.differences(lut.lattice, name, kind, lut.shaper)
                cells.append(f"{mean:.3f} / {p99:.2f} / {three:.2f}")
                if name != "sweeps":
                    self.hold(f"{look} {source} curve and 33, {kind} {name} mean + 3 sd", three, MOST_3SD_SHAPED)
            row(look, source, kind, *cells)


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--looks", nargs="+", default=LOOKS)
    parser.add_argument("--sources", nargs="+", default=list(SOURCES))
    parser.add_argument("--sizes", type=int, nargs="+", default=[17, 33, 65])
    parser.add_argument("--images", type=Path, help="folder with the photographs")
    options = parser.parse_args()
    table = Table(options.images)
    print(f"{os.cpu_count()} cores, load before {os.getloadavg()[0]:.1f}; seconds are under whatever else they did.\n")
    heads = ("mean + 3 sd, natural, 10 bits", "folds of the cube, %", "of the core, %", "roughness", "s")
    row("look", "source", "points", "lookup", *SETS, *heads)
    row(*["---"] * 14)
    for size in options.sizes:
        for look in options.looks:
            for source in options.sources:
                table.one(look, source, size)
    print("\nCurve and 33 points (CLF): mean / 99 % / mean + 3 sd with codes of 10 bits\n")
    row("look", "source", "lookup", *table.sets)
    row(*["---"] * 7)
    for look in options.looks:
        for source in options.sources:
            table.shaped(look, source)
    print()
    for kind, found in table.seen.items():
        if found:
            mean = float(np.mean(found))
            print(f"stills at 33 points, {kind}: {mean:.2f} of plain in the mean")
            table.hold(f"stills at 33 points, {kind}", mean, MOST_STILLS[kind])
    print("\n".join(["short:", *table.short] if table.short else ["every limit is kept"]))
    return 1 if table.short else 0


if __name__ == "__main__":
    sys.exit(main())
