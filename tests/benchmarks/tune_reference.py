"""Tuning to a frame of other content, beside an unconstrained colour transport.

Run: python tests/benchmarks/tune_reference.py [--images FOLDER]

Frames: photographs that the wheels of scikit-image (`skimage/data`) and scikit-learn (`sklearn/datasets/images`) carry;
install both (they are not needed by the project), or unpack the wheels and name the folder. They are display pictures
(sRGB), so the look's source and output are sRGB.

Transport: the linear Monge-Kantorovich map between the two colour distributions (Pitie & Kokaram 2007, "The linear
Monge-Kantorovitch linear colour mapping for example-based colour transfer", section 3), in Oklab, written below; its
result is baked as a 33-point lattice and goes through the same check as the look. Distance: sliced Wasserstein (root mean
square over 24 directions and 32 quantiles), Oklab x 100, on 40,000 pixels that tuning did not choose.
"""

from __future__ import annotations

import argparse
import importlib.util
import tempfile
import time
from pathlib import Path

import numpy as np

from lookwright.assess.restraint.check import MEASUREMENTS
from lookwright.assess.restraint.limits import BY_NAME
from lookwright.assess.restraint.subject import Subject, foreign, subject_of_look
from lookwright.colour.spaces.oklab import light_to_oklab, oklab_to_light
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import sample
from lookwright.pictures.stills import read, write
from lookwright.solve.tune.gather import Wishes
from lookwright.solve.tune.reference import sliced_distance
from lookwright.solve.tune.run import tune
from lookwright.solve.tune.samples import sampled

SRGB = Signal.named("sRGB")

LOOK = """\
[source]
encoding = "sRGB"
[output]
encoding = "sRGB"
[[step]]
kind = "exposure"
[[step]]
kind = "balance"
[[step]]
kind = "contrast"
[[step]]
kind = "hues"
  [[step.band]]
  centre = 135.0
  width = 30.0
  [[step.band]]
  centre = 245.0
  width = 40.0
[[step]]
kind = "split"
[[step]]
kind = "saturation"
[[step]]
kind = "cdl"
[[step]]
kind = "render"
[[step]]
kind = "gamut"
"""

PAIRS = [
    ("coffee.png", "chelsea.png"),
    ("chelsea.png", "coffee.png"),
    ("astronaut.png", "china.jpg"),
    ("china.jpg", "astronaut.png"),
    ("rocket.jpg", "china.jpg"),
    ("china.jpg", "rocket.jpg"),
    ("flower.jpg", "chelsea.png"),
    ("astronaut.png", "coffee.png"),
    ("motorcycle_left.png", "china.jpg"),
    ("coffee.png", "flower.jpg"),
]


def find_images(folder: Path | None) -> dict[str, Path]:
    """Every named picture, from the folder or from the installed packages."""
    roots = [folder] if folder else []
    for package, inside in (("skimage", "data"), ("sklearn", "datasets/images")):
        spec = importlib.util.find_spec(package)
        if spec is not None and spec.origin:
            roots.append(Path(spec.origin).parent / inside)
    found = {p.name: p for root in roots for p in root.rglob("*") if p.suffix in (".png", ".jpg")}
    missing = {n for pair in PAIRS for n in pair} - set(found)
    if missing:
        raise SystemExit(f"not found: {', '.join(sorted(missing))}; install scikit-image and scikit-learn")
    return found


def lab(code: np.ndarray) -> np.ndarray:
    """Oklab x 100 of sRGB code values."""
    return 100.0 * light_to_oklab(SRGB.to_light(code))


def root(matrix: np.ndarray) -> np.ndarray:
    """Symmetric square root of a symmetric positive matrix."""
    values, vectors = np.linalg.eigh(matrix)
    return (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T


def transport(one: np.ndarray, two: np.ndarray):  # type: ignore[no-untyped-def]
    """The linear map that carries mean and covariance of ``one`` (n, 3) into those of ``two`` with least movement.

    T = A^-1/2 (A^1/2 B A^1/2)^1/2 A^-1/2 for covariances A and B.
    """
    a = np.cov(one.T) + 1e-6 * np.eye(3)
    b = np.cov(two.T) + 1e-6 * np.eye(3)
    half = root(a)
    back = np.linalg.inv(half)
    matrix = back @ root(half @ b @ half) @ back
    mean_one, mean_two = one.mean(axis=0), two.mean(axis=0)

    def through(code: np.ndarray) -> np.ndarray:
        moved = (lab(code) - mean_one) @ matrix.T + mean_two
        light = oklab_to_light(moved / 100.0)
        own = light @ np.linalg.inv(to_light_matrix()).T
        return SRGB.encode(np.clip(own, 0.0, 1.0))

    return through


def to_light_matrix() -> np.ndarray:
    """(3, 3) linear sRGB to display light."""
    return np.stack([SRGB.to_light(np.eye(3)[i]) for i in range(3)], axis=1)


def failures(subject: Subject) -> list[str]:
    """Measures of the check that fail."""
    values = [v for m in MEASUREMENTS for v in m(subject).values]
    return [v.measure for v in values if BY_NAME[v.measure].state(v.value) == "fail"]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--images", type=Path)
    parser.add_argument("--pairs", type=int, default=len(PAIRS))
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args()
    images = find_images(args.images)
    start = parse_look(LOOK)
    shares, passing, failing = [], 0, 0
    print(
        f"{'still':16s} {'reference':14s} {'before':>7s} {'tuned':>7s} {'transport':>9s} {'share of its gain':>18s}  check"
    )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for mine, theirs in PAIRS[: args.pairs]:
            paths = []
            for n in (mine, theirs):  # three plain channels, whatever the file has
                path = folder / (Path(n).stem + ".png")
                write(path, read(images[n]).pixels, depth="8")
                paths.append(path)
            code, wanted = (sampled(read(p).pixels, 40_000, 99) for p in paths)
            target = lab(wanted)
            before = sliced_distance(lab(code), target)
            begun = time.process_time()
            outcome = tune(start, Wishes(stills=(paths[0],), references=(paths[1],)))
            cpu = time.process_time() - begun
            tuned = sliced_distance(lab(compile_look(outcome.look)(code)), target)
            lattice = sample(transport(lab(code), target), 33)
            moved = foreign("transport", SRGB, SRGB, lambda x: lookup(lattice, x))  # noqa: B023
            reached = sliced_distance(lab(moved.graded(code)), target)
            own, others = failures(subject_of_look(outcome.look)), failures(moved)
            share = (before - tuned) / (before - reached)
            shares.append(share)
            passing += not own
            failing += bool(others)
            print(
                f"{mine:16s} {theirs:14s} {before:7.2f} {tuned:7.2f} {reached:9.2f} {100 * share:16.0f} %  "
                f"tuned {'fails ' + ', '.join(own) if own else 'passes'}; transport "
                f"{'fails ' + ', '.join(others) if others else 'passes'} (cpu {cpu:.0f} s, {outcome.starts} starts)",
                flush=True,
            )
            if args.verbose:
                top = sorted(outcome.harm_after.items(), key=lambda t: -t[1])[:4]
                print("     nearest limits:", ", ".join(f"{n} {h:.2f}" for n, h in top))
                for c in outcome.changes:
                    if c.after != c.before:
                        print(f"     {c.name} {c.before:.3g} -> {c.after:.3g} {c.status} {c.bound}")
    print(
        f"share of the transport's gain: median {100 * np.median(shares):.0f} %, least {100 * min(shares):.0f} %; tuned "
        f"looks that pass the check: {passing} of {len(shares)}; transports that fail it: {failing} of {len(shares)}"
    )


if __name__ == "__main__":
    main()
