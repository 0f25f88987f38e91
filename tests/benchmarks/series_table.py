"""The match across framings against truth: how many shots are answered, how well, and what other methods make of them.

    python tests/benchmarks/series_table.py --photos FOLDER [--leave NAMES] [--renders FOLDER] [--series N]

FOLDER holds photographs; those whose stems are in NAMES (comma separated) were developed on and are left out. Renders
are those of ``sample_images/scene/framings.py``. From each content a series is made: an anchor and seven framings (all
twenty of the renders), a third of them in another light. Truth is what was put in (tests/shared/framed.py). About ten
minutes on one core.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from pathlib import Path

import imageio.v3 as iio
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))

from framed import Put, balance, decoded, drawn, entered, lamp, seen, through
from takes import LOG, WHITE_XY, _acescg_to_xyz, _xyz, mired_of

from lookwright.solve.series.across import answers
from lookwright.solve.series.features import look
from lookwright.solve.series.match import match_frame, sampled

GROUPS = ("window", "lamps", "key")
LIGHTS = ((0.35, 1.0, 1.0), (1.0, 1.0, 0.4), (1.0, 0.15, 1.0), (2.0, 1.0, 1.0))
Shot = tuple[np.ndarray, Put, bool]


def matrix(put: Put) -> np.ndarray:
    return balance(put.mired, put.tint) * 2.0**put.stops


def off(light_matrix: np.ndarray) -> tuple[float, float]:
    """Stops and mired of what a matrix on linear ACEScg does to white."""
    to = _acescg_to_xyz()
    white = to @ light_matrix @ np.linalg.inv(to) @ _xyz(WHITE_XY)
    return float(np.log2(white[1])), mired_of(white) - mired_of(_xyz(WHITE_XY))


def of_photo(light: np.ndarray, cloth: np.ndarray, seed: int) -> list[Shot]:
    """An anchor, four framings in its light and three in another."""
    rng = np.random.default_rng(seed)
    other = lamp(rng)(light)
    shots = []
    for n in range(8):
        changed = n in (2, 4, 6)
        frame = seen(other if changed else light, rng, rng.uniform(0.8, 1.5) if n else 1.0)
        if n % 2:
            frame = entered(frame, cloth, rng)
        put = drawn(rng) if n else Put()
        shots.append((through(frame, rng.uniform(0.0, 0.2), put, rng), put, changed))
    return shots


def of_renders(folder: Path, seed: int) -> list[Shot]:
    rng = np.random.default_rng(seed)
    files = sorted(folder.glob("*.npz"))
    order = [files[k] for k in rng.permutation(len(files))]
    shots = []
    for n, file in enumerate(order):
        changed = n > 0 and bool(rng.uniform() < 0.35)
        weights = LIGHTS[seed % len(LIGHTS)] if changed else (1.0, 1.0, 1.0)
        with np.load(file) as groups:
            light = sum(w * groups[g].astype(np.float64) for w, g in zip(weights, GROUPS, strict=True))
        put = drawn(rng) if n else Put()
        shots.append((through(np.maximum(light, 0.0), rng.uniform(0.0, 0.2), put, rng), put, changed))
    return shots


def judge(shots: list[Shot], table: dict[str, Counter], errors: dict[str, list]) -> None:
    """One series: what each method says of every shot but the anchor."""
    light = [LOG.to_scene(s[0]) for s in shots]
    made = [look(x) for x in light]
    said = answers(len(shots), lambda n: made[n], 0)
    for n, (_, put, changed) in enumerate(shots):
        if n == 0:
            continue
        count = table["shared surfaces, all shots together"]
        answer = said[n]
        count["changed" if changed else "same", answer.state] += 1
        if changed:
            continue
        truth = matrix(put)
        if answer.state == "matched":
            d = answer.difference
            errors["shared surfaces, all shots together"].append(_off(truth, matrix(Put(d.stops, d.mired, d.tint))))
        whole = match_frame(sampled(light[0]), sampled(light[n]))
        table["whole frame"]["same", "unknown" if whole.changed else "matched"] += 1
        if not whole.changed:
            d = whole.difference
            errors["whole frame"].append(_off(truth, matrix(Put(d.stops, d.mired, d.tint))))
        errors["no matching"].append(off(truth))
        for name, transfer in (("mean and deviation", _deviation), ("linear Monge-Kantorovich", _monge)):
            errors[name].append(_grey(transfer(shots[n][0], shots[0][0]), truth))


def _off(truth: np.ndarray, found: np.ndarray) -> tuple[float, float]:
    return off(truth @ np.linalg.inv(found))


def _grey(transfer: tuple[np.ndarray, np.ndarray, np.ndarray], truth: np.ndarray) -> tuple[float, float]:
    """What a transfer of codes leaves of the difference, on a grey card."""
    matrix_, middle, aim = transfer
    code = LOG.from_scene((truth @ np.full(3, 0.18))[None])[0]
    light = LOG.to_scene(((code - middle) @ matrix_.T + aim)[None])[0] / 0.18
    xyz = np.maximum(_acescg_to_xyz() @ light, 1e-6)
    return float(np.log2(xyz[1])), mired_of(xyz) - mired_of(_xyz(WHITE_XY))


def _deviation(source: np.ndarray, aim: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean and standard deviation of each channel (Reinhard et al. 2001), on the log codes."""
    a, b = source.reshape(-1, 3).astype(np.float64), aim.reshape(-1, 3).astype(np.float64)
    return np.diag(b.std(axis=0) / np.maximum(a.std(axis=0), 1e-6)), a.mean(axis=0), b.mean(axis=0)


def _monge(source: np.ndarray, aim: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Linear Monge-Kantorovich (Pitie, Kokaram 2007), on the log codes."""
    a, b = source.reshape(-1, 3).astype(np.float64), aim.reshape(-1, 3).astype(np.float64)
    one, two = np.cov(a.T) + 1e-8 * np.eye(3), np.cov(b.T)

    def root(m: np.ndarray, power: float) -> np.ndarray:
        values, vectors = np.linalg.eigh(m)
        return (vectors * np.maximum(values, 1e-12) ** power) @ vectors.T

    half = root(one, 0.5)
    return root(one, -0.5) @ root(half @ two @ half, 0.5) @ root(one, -0.5), a.mean(axis=0), b.mean(axis=0)


def other_sets(photos: list[np.ndarray], count: int = 100) -> int:
    """How many of ``count`` pairs of different scenes are corrected."""
    rng = np.random.default_rng(77)
    views = [[look(LOG.to_scene(through(seen(p, rng, 1.0), 0.1, drawn(rng), rng))) for _ in range(4)] for p in photos]
    pairs = [
        (a, b, i, j)
        for a in range(len(photos))
        for b in range(len(photos))
        if a != b
        for i in range(4)
        for j in range(4)
    ]
    wrong = 0
    for k in rng.permutation(len(pairs))[:count]:
        a, b, i, j = pairs[k]
        wrong += answers(2, lambda n, two=(views[a][i], views[b][j]): two[n], 0)[1].state == "matched"
    return wrong


def tell(name: str, table: dict[str, Counter], errors: dict[str, list]) -> None:
    print(
        f"\n**{name}**\n\n| method | same light | matched | within .05 / 5 | off by more than .1 / 10 |\n|---|---|---|---|---|"
    )
    for method, found in errors.items():
        e = np.abs(np.array(found)).reshape(-1, 2)
        total = sum(v for (light, _), v in table[method].items() if light == "same") or len(e)
        near, far = ((e[:, 0] <= 0.05) & (e[:, 1] <= 5)).sum(), ((e[:, 0] > 0.1) | (e[:, 1] > 10)).sum()
        print(
            f"| {method} | {total} | {len(e)} ({len(e) / max(total, 1):.0%}) | {near} ({near / max(len(e), 1):.0%}) | {far} |"
        )
    c = table["shared surfaces, all shots together"]
    decided = c["changed", "changed"] + c["changed", "matched"]
    print(
        f"\nother light: {c['changed', 'changed']} named of {decided} decided, {c['changed', 'matched']} corrected, "
        f"{c['changed', 'unknown']} not known; same light called changed: {c['same', 'changed']} of "
        f"{c['same', 'changed'] + c['same', 'matched']} decided, not known {c['same', 'unknown']}",
        flush=True,
    )


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--photos", type=Path, required=True)
    options.add_argument("--leave", default="")
    options.add_argument("--renders", type=Path)
    options.add_argument("--series", type=int, default=4)
    options.add_argument("--render-series", type=int, default=3)
    options.add_argument("--seed", type=int, default=500)
    given = options.parse_args()
    left = given.leave.split(",")
    files = [f for f in sorted(given.photos.iterdir()) if f.stem not in left and f.suffix in (".png", ".jpg")]
    photos = [decoded(iio.imread(f)) for f in files]
    print("photographs:", ", ".join(f.stem for f in files), flush=True)
    everything, all_errors = defaultdict(Counter), defaultdict(list)
    parts = [
        (
            "photographs",
            [
                lambda k=k, i=i: of_photo(photos[i], photos[i - 1], given.seed + 100 * i + k)
                for i in range(len(photos))
                for k in range(given.series)
            ],
        )
    ]
    if given.renders:
        parts.append(
            (
                "renders of the sample scene",
                [lambda k=k: of_renders(given.renders, given.seed + k) for k in range(given.render_series)],
            )
        )
    for name, makers in parts:
        table, errors = defaultdict(Counter), defaultdict(list)
        for number, make in enumerate(makers):
            judge(make(), table, errors)
            print(f"{name}: {number + 1} of {len(makers)} series", file=sys.stderr, flush=True)
            if (number + 1) % max(len(makers) // 2, 1) == 0 and number + 1 < len(makers):
                tell(f"{name}, so far", table, errors)
        tell(name, table, errors)
        for method, count in table.items():
            everything[method] += count
        for method, found in errors.items():
            all_errors[method] += found
    tell("together", everything, all_errors)
    print(f"\nanother set: {other_sets(photos)} of 100 pairs corrected")


if __name__ == "__main__":
    main()
