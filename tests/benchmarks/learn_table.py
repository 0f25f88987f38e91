"""`learn` beside the stock ways: two strong foreign grades, learnt from two stills, judged on three others.

    python tests/benchmarks/learn_table.py

Mean CIEDE2000 on pixels of the two stills that were not learnt from (held out), and on three stills never given
(unseen); clean, and with noise of 1.5/255 in the graded frames. Of `learn` both lookups, of its lattice on 33 points.
Beside it, from the same pixels: SciPy's thin plate on 900 centres behind the same recipe (cells of 1/40, as a careful
user would do), root-polynomial correction (Finlayson, Mackiewicz and Hurlbert 2015, colour-science) from scene light to
display light, and linear Monge-Kantorovich transport (Pitie and Kokaram 2007) from code values to signal. Folds are
tetrahedra of the lattice turned over, in all; rough is the root mean square of second differences over the identity's
step. Exit 1 where a figure is over its limit.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.interpolate import RBFInterpolator
from scipy.linalg import sqrtm

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))
from foreign_grades import GRADES, LOG

from lookwright.colour.difference import ciede2000
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.pictures.stills import read, write
from lookwright.solve.learn.bins import farthest
from lookwright.solve.learn.learn import learn
from lookwright.solve.learn.unfold import folds
from lookwright.solve.tune.samples import sampled

SAMPLES = Path(__file__).parents[2] / "sample_images"
GIVEN, UNSEEN = ("wide", "close"), ("day", "insert", "close_ep2")
VIDEO = Signal.named("BT.1886")
TO_LAB = lab_of(VIDEO)
NOISE = 1.5 / 255.0
LOOK = """
format = 2
source = { encoding = "ACEScct" }
output = { encoding = "BT.1886" }
""" + "".join(f'[[step]]\nkind = "{k}"\n' for k in ("exposure", "balance", "contrast", "cdl", "saturation", "split"))
LOOK += '[[step]]\nkind = "render"\n'
LIMITS: dict[tuple[str, float], tuple[float, float | None]] = {
    # As asked for of two grades, .03/.42 of one and .05/.62 of the other; of which was open.
    ("amber", 0.0): (0.05, 0.62),
    ("bleached", 0.0): (0.03, 0.42),
    ("amber", NOISE): (0.15, None),
    ("bleached", NOISE): (0.15, None),
}
Map = Callable[[np.ndarray], np.ndarray]


def codes(name: str) -> np.ndarray:
    """(H, W, 3) of a sample still."""
    return read(SAMPLES / f"{name}_acescct.png").pixels.astype(np.float64)


def pixels(names: tuple[str, ...], count: int, seed: int) -> list[np.ndarray]:
    return [sampled(codes(n).astype(np.float32), count, seed) for n in names]


def thin_plate(before: np.ndarray, after: np.ndarray) -> Map:
    """SciPy's on the means of cells of 1/40, 900 of them at most."""
    _, cell, count = np.unique(np.floor(before * 40), axis=0, return_inverse=True, return_counts=True)
    means = [np.stack([np.bincount(cell.ravel(), c) / count for c in v.T], 1) for v in (before, after)]
    kept = farthest(means[0], 900)
    return RBFInterpolator(means[0][kept], means[1][kept], kernel="thin_plate_spline")


def root_polynomial(before: np.ndarray, after: np.ndarray) -> Map:
    import colour

    matrix = colour.characterisation.matrix_colour_correction_Finlayson2015(
        LOG.to_scene(before), VIDEO.to_light(after), 4, True
    )

    def apply(code: np.ndarray) -> np.ndarray:
        expanded = colour.characterisation.polynomial_expansion_Finlayson2015(
            np.maximum(LOG.to_scene(code), 0), 4, True
        )
        return VIDEO.from_light(np.maximum(expanded @ matrix.T, 0.0))

    return apply


def transport(before: np.ndarray, after: np.ndarray) -> Map:
    a, b = np.cov(before.T), np.cov(after.T)
    root = np.real(sqrtm(a))
    back = np.linalg.inv(root)
    matrix = back @ np.real(sqrtm(root @ b @ root)) @ back
    return lambda code: (code - before.mean(0)) @ matrix.T + after.mean(0)


def error(made: Map, grade: Map, stills: list[np.ndarray]) -> float:
    each = [ciede2000(TO_LAB(np.clip(made(s), 0, 1)), TO_LAB(grade(s))).mean() for s in stills]
    return float(np.mean(each))


def rough(table: np.ndarray) -> float:
    bends = [np.diff(table, 2, axis=k).ravel() for k in range(3)]
    return float(np.sqrt(np.mean(np.concatenate(bends) ** 2)) * (len(table) - 1))


def rows(name: str, noise: float, folder: Path) -> bool:
    """Print what each way reaches; whether `learn` keeps its limits."""
    grade, rng = GRADES[name], np.random.default_rng(7)
    pairs = []
    for still in GIVEN:
        made = grade(codes(still))
        made = made + noise * rng.standard_normal(made.shape) if noise else made
        path = folder / f"{name}-{still}-{noise:.4f}.png"
        write(path, np.clip(made, 0, 1).astype(np.float32), depth="16")
        pairs.append((SAMPLES / f"{still}_acescct.png", path))
    began = time.perf_counter(), time.process_time()
    learnt = learn(parse_look(LOOK), pairs)
    seconds, busy = time.perf_counter() - began[0], time.process_time() - began[1]
    assert learnt.residual is not None
    recipe = compile_look(learnt.look)
    table = learnt.residual.lattice.table
    before = np.concatenate(pixels(GIVEN, 60_000, 1))
    after = np.concatenate([sampled(read(p).pixels, 60_000, 1).astype(np.float64) for _, p in pairs])
    behind = thin_plate(recipe(before), after)
    few = slice(None, None, 10)
    ways: dict[str, Map] = {
        "learn, trilinear": lambda c: lookup(Lattice(table), recipe(c), "trilinear"),
        "learn, tetrahedral": lambda c: lookup(Lattice(table), recipe(c), "tetrahedral"),
        "the tuned recipe alone": recipe,
        "thin plate (SciPy), behind the recipe": lambda c: behind(recipe(c)),
        "thin plate (SciPy), from log": thin_plate(before, after),
        "root polynomial, degree 4": root_polynomial(before[few], after[few]),
        "linear Monge-Kantorovich": transport(before, after),
    }
    thin = grid(33).reshape(-1, 3)
    lattices = {"learn, tetrahedral": table, "thin plate (SciPy), behind the recipe": behind(thin).reshape(table.shape)}
    judged = [pixels(names, 4_000, 99) for names in (GIVEN, UNSEEN)]
    good = True
    for way, made in ways.items():
        held, unseen = (error(made, grade, s) for s in judged)
        more = ""
        if (lattice := lattices.get(way)) is not None:
            more = f"  folds {folds(np.round(lattice, 6))}  rough {rough(lattice):.4f}"
        print(f"{name:9}{'noisy' if noise else 'clean':7}{way:40}{held:7.3f} /{unseen:7.3f}{more}", flush=True)
        if way == "learn, tetrahedral":
            limits = LIMITS[name, noise]
            good = held <= limits[0] and (limits[1] is None or unseen <= limits[1]) and not folds(table)
    how = learnt.residual.how
    print(
        f"         {seconds:.1f} s ({busy:.1f} s of processor); kernel r^{how.power}, smoothing {how.smoothing:g}, {learnt.residual.mended} folds "
        f"mended by {learnt.residual.mended_by:.4f}; limits {'kept' if good else 'NOT kept'}"
    )
    return good


def main() -> int:
    print(f"{'grade':9}{'':7}{'way':40}held out / unseen, mean CIEDE2000")
    with tempfile.TemporaryDirectory() as folder:
        good = [rows(name, noise, Path(folder)) for name in GRADES for noise in (0.0, NOISE)]
    return 0 if all(good) else 1


if __name__ == "__main__":
    sys.exit(main())
