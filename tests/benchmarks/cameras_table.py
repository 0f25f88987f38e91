"""How far the LUTs of one look for several cameras agree on the same scene colours, and what the look alone would do.

    python tests/benchmarks/cameras_table.py            # every look that ships, plainly sampled: half a minute
    python tests/benchmarks/cameras_table.py --refined  # as `deliver` makes them

CIEDE2000, mean / 99 in 100 / worst, over natural scene colours that both cameras carry, 33 points, tetrahedral. The last
columns say how much of the natural colours of either camera both carry, and the same pair through the exact look.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.jobs.given import SignalName
from lookwright.jobs.looks import load_look
from lookwright.look.baking.bake import bake
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.fit.refine import refine
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice
from lookwright.present.delivery.cameras import COLOURS, Agreement, Camera, agreements

LOOKS = Path(__file__).parents[2] / "looks"
CAMERAS = ("ACEScct", "S-Log3", "V-Log", "C-Log3")


def pairs(look: Path, cameras: Sequence[str], refined: bool) -> list[tuple[Agreement, Agreement]]:
    """Every pair of cameras: through their LUTs, and through the exact look."""
    baked, exact = [], []
    for name in cameras:
        pipeline = compile_look(load_look(look, source=SignalName(name))[0])
        lattice = refine(pipeline, 33).lattice if refined else bake(pipeline)
        baked.append(Camera(name, pipeline.source, lambda x, lattice=lattice: _shown(lattice, x)))
        exact.append(Camera(name, pipeline.source, pipeline))
        output: Signal = pipeline.output
    to_lab = lab_of(output)
    return list(zip(agreements(baked, to_lab), agreements(exact, to_lab), strict=True))


def _shown(lattice: Lattice, x: object) -> object:
    return lookup(lattice, x)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--refined", action="store_true")
    refined = parser.parse_args().refined
    print("| look | cameras | their LUTs | carried by both | exact look, worst |\n|---|---|---|---|---|")
    for look in sorted(LOOKS.glob("*.toml")):
        for lut, exact in pairs(look, CAMERAS, refined):
            figures = f"{lut.mean:.2f} / {lut.p99:.2f} / {lut.worst:.1f}"
            share = f"{lut.colours / COLOURS / 2:.0%}"
            row = (look.stem, f"{lut.first}, {lut.second}", figures, share, f"{exact.worst:.1e}")
            print(f"| {' | '.join(row)} |", flush=True)


if __name__ == "__main__":
    main()
