"""Where clips are cut: false cuts in clips of one light, and changes of light found to the frame.

    python tests/benchmarks/series_cuts.py [--seeds 9] [--first 100]

Clips of tests/shared/moving.py, 48 to 60 frames of 160 x 90 from four sample stills, with noise, a shaking camera and
somebody who walks through, near or far, slow or quick. Half a minute of processor time a seed.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))
from moving import Course, clip, course

from lookwright.jobs.parts import chosen
from lookwright.solve.series.drift import drift

STILLS = ("close", "wide", "insert", "chart")
ONE_LIGHT = (
    ("steady", course(60), {}),
    ("drift, flicker, pan", course(60, drift=0.5, mired=25.0, flicker=0.03, pan=0.3), {}),
    ("walker of 40 % of the width", course(60, drift=0.2), {"body": 0.2, "way": (-0.3, 1.3)}),
    ("quick walker", course(60, flicker=0.02), {"body": 0.1, "way": (-0.5, 3.0)}),
    ("walker of 70 % of the width", course(48), {"body": 0.35, "way": (1.5, -0.5)}),
)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=9)
    parser.add_argument("--first", type=int, default=100)
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.seeds)
    for name, truth, walker in ONE_LIGHT:
        told = cut = 0
        for seed in seeds:
            for still in STILLS:
                found = drift(clip(still, truth, seed=seed, **walker))
                told += bool(found.steps)
                cut += bool(chosen(found))
        print(f"{name}: {len(seeds) * len(STILLS)} clips, a change told in {told}, cut {cut}", flush=True)
    for kind in ("left", "spot", "iris"):
        right = elsewhere = count = 0
        for seed in seeds:
            for still in STILLS:
                at, cuts = changed(still, kind, seed)
                count += 1
                right += at in cuts
                elsewhere += sum(c != at for c in cuts)
        print(f"{kind}: {count} changes of .3 to 1 stop, cut at the frame {right}, elsewhere {elsewhere}", flush=True)


def changed(still: str, kind: str, seed: int) -> tuple[int, list[int]]:
    """The frame of a change of light at random, and where the clip would be cut."""
    rng = np.random.default_rng((seed, len(kind), ord(still[0])))
    at, size = int(rng.integers(9, 50)), float(rng.choice([-1, 1]) * rng.uniform(0.3, 1.0))
    lamp = None if kind == "iris" else (at, kind, size)
    truth = course(60, drift=0.1, flicker=0.005, lamp=lamp, pan=0.1)
    if kind == "iris":
        truth = Course(truth.stops + size * (np.arange(60) >= at), truth.mired, None, 0.1)
    frames = clip(still, truth, seed=seed, body=float(rng.uniform(0.06, 0.2)), way=(-0.2, 1.1))
    return at, [s.frame for s in chosen(drift(frames))]


if __name__ == "__main__":
    main()
