"""How well tuning finds a look again: random looks, and what pictures graded with them lead back to.

Run: python tests/benchmarks/tune_recovery.py [--looks 20] [--goal pair|reference|both] [--seed 1]

Each look has seven steps whose parameters are drawn evenly from the middle 70 % of their usual ranges; one that fails
the check is brought nearer to the start by tenths until it passes, since tuning will not go where the check fails. The
start is the same recipe with every parameter at its default. Stills: the sample stills, every fourth row and column.
Differences are CIEDE2000 between the pictures of the true and the tuned look over all pixels of all stills.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np

from lookwright.assess.restraint.check import MEASUREMENTS
from lookwright.assess.restraint.limits import BY_NAME
from lookwright.assess.restraint.subject import subject_of_look
from lookwright.colour.difference import ciede2000, xyz_to_lab
from lookwright.colour.spaces.primaries import primaries
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.pictures.stills import read, write
from lookwright.solve.tune.free import free_parameters, with_values
from lookwright.solve.tune.gather import Wishes
from lookwright.solve.tune.run import Outcome, tune

ROOT = Path(__file__).parents[2]
STILLS = sorted((ROOT / "sample_images").glob("*_acescct.png"))

START = """\
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "exposure"
[[step]]
kind = "balance"
[[step]]
kind = "contrast"
[[step]]
kind = "hues"
  [[step.band]]
  centre = 245.0
  width = 40.0
  [[step.band]]
  centre = 135.0
  width = 30.0
[[step]]
kind = "split"
[[step]]
kind = "saturation"
[[step]]
kind = "print"
[[step]]
kind = "gamut"
"""


def random_look(start: Look, rng: np.random.Generator) -> tuple[Look, int]:
    """A look that passes the check, and how many tenths it was moved toward the start for that."""
    free = free_parameters(start)
    z = np.array([f.z(_between(f, rng)) for f in free])
    for tries in range(20):
        look = with_values(start, free, z * 0.9**tries)
        subject = subject_of_look(look)
        if all(BY_NAME[v.measure].state(v.value) != "fail" for m in MEASUREMENTS for v in m(subject).values):
            return look, tries
    raise SystemExit("the start itself does not pass the check")


def _between(f, rng: np.random.Generator) -> float:  # type: ignore[no-untyped-def]
    low, high = f.info.soft_low, f.info.soft_high
    at = 0.15 + 0.7 * rng.random()
    return low * (high / low) ** at if f.log else low + (high - low) * at


def small_stills(folder: Path) -> list[Path]:
    """The sample stills at a quarter of their size."""
    paths = []
    for path in STILLS:
        target = folder / f"{path.stem.removesuffix('_acescct')}.png"
        write(target, np.ascontiguousarray(read(path).pixels[2::4, 2::4]), depth="16")
        paths.append(target)
    return paths


def difference(one: Look, two: Look, stills: list[Path]) -> np.ndarray:
    """CIEDE2000 of every pixel of every still."""
    a, b = compile_look(one), compile_look(two)
    found = []
    for path in stills:
        code = read(path).pixels.reshape(-1, 3).astype(float)
        lab = [xyz_to_lab(p.output.to_light(p(code)) @ primaries("BT.2020").to_xyz.T) for p in (a, b)]
        found.append(ciede2000(lab[0], lab[1]))
    return np.concatenate(found)


def calibration(outcome: Outcome, truth: Look, start: Look) -> tuple[int, int, list[str]]:
    """(determined, of these within the stated uncertainty, names of those outside)."""
    values = {f.name: f.start for f in free_parameters(truth)}
    inside, outside = 0, []
    for c in outcome.changes:
        if c.status in ("determined", "still") and c.uncertainty is not None:
            if abs(c.after - values[c.name]) <= c.uncertainty:
                inside += 1
            else:
                outside.append(f"{c.name} {c.after:.4g}±{c.uncertainty:.2g} true {values[c.name]:.4g}")
    return inside + len(outside), inside, outside


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--looks", type=int, default=20)
    parser.add_argument("--goal", choices=["pair", "reference", "both"], default="both")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args()
    start = parse_look(START)
    for goal in ("pair", "reference") if args.goal == "both" else (args.goal,):
        rng = np.random.default_rng(args.seed)
        means, p99s, determined, inside, cpu, draws, names = [], [], 0, 0, [], 0, []
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            stills = small_stills(folder)
            (folder / "graded").mkdir()
            for k in range(args.looks):
                truth, tries = random_look(start, rng)
                draws += tries
                pipeline = compile_look(truth)
                graded = []
                for path in stills:
                    target = folder / "graded" / path.name
                    write(target, pipeline(read(path).pixels.astype(float)).astype(np.float32), depth="16")
                    graded.append(target)
                if goal == "pair":
                    wishes = Wishes(pairs=tuple(zip(stills, graded, strict=True)))
                else:
                    wishes = Wishes(stills=tuple(stills), references=tuple(graded))
                begun = time.process_time()
                outcome = tune(start, wishes)
                cpu.append(time.process_time() - begun)
                error = difference(truth, outcome.look, stills)
                means.append(float(error.mean()))
                p99s.append(float(np.percentile(error, 99)))
                count, good, out = calibration(outcome, truth, start)
                determined, inside = determined + count, inside + good
                names += out
                before = difference(truth, start, stills).mean()
                print(
                    f"{goal} {k + 1:2d}: mean dE2000 {before:5.2f} -> {means[-1]:.3f}, 99 % {p99s[-1]:.2f}; "
                    f"determined {count}, within {good}; starts {outcome.starts}, evaluations {outcome.evaluations}, "
                    f"cpu {cpu[-1]:.1f} s",
                    flush=True,
                )
                if args.verbose:
                    for c in outcome.changes:
                        print("    ", c.name, f"{c.before:g} -> {c.after:g}", c.status, c.uncertainty, c.tied_to)
        print(
            f"{goal}: mean dE2000 of a look: median {np.median(means):.3f}, worst {max(means):.3f}; 99 % of pixels: "
            f"median {np.median(p99s):.2f}, worst {max(p99s):.2f}; determined {determined} "
            f"({determined / args.looks:.1f} a look), within the stated uncertainty {inside} "
            f"({100 * inside / max(determined, 1):.0f} %); cpu median {np.median(cpu):.1f} s; tenths toward the start "
            f"to pass the check: {draws / args.looks:.1f} a look"
        )
        for n in names:
            print("    outside:", n)


if __name__ == "__main__":
    main()
