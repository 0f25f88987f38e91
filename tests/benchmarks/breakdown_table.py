"""What breaking a frame down gets right, on frames made for it: ``python tests/benchmarks/breakdown_table.py RENDERS [PHOTOGRAPHS]``.

RENDERS is a folder written by ``sample_images/scene/others.py``: stills in ACEScct with, beside each, which surface each
pixel is (``*_aov.npz``). Marks are drawn from that, not from the picture. PHOTOGRAPHS is a folder of photographs; where
a face is in one, its name is given in FACES below. Prints every figure, and every miss.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
from scipy import ndimage

from lookwright.assess.breakdown.breakdown import Breakdown, break_down
from lookwright.assess.breakdown.faces import find_faces
from lookwright.assess.breakdown.frame import smaller
from lookwright.assess.breakdown.part import box_round, innermost
from lookwright.colour.spaces.signal import Signal
from lookwright.jobs.small_frames import seen
from lookwright.pictures.stills import read

ACES = Signal.named("ACEScct")
DARK = ("figure", "hair", "head", "arm", "dressing", "instrument")
GROUND = ("wall", "brick")
LEAST_LAMP = 0.00004
FACES = {"astronaut": 1, "camera": 1, "lfw": 1}


def truth(path: Path) -> dict:
    data = np.load(path, allow_pickle=False)
    names = [str(n) for n in data["labels"]]
    return {
        "of": {n: data["lab"] == i for i, n in enumerate(names)},
        "normal": turned(data["pos"]),
        "position": data["pos"],
        "key": data["key"],
        "source": data["em"],
    }


def turned(position: np.ndarray) -> np.ndarray:
    """Which way each surface is turned, toward the camera: from the places of neighbouring pixels."""
    smooth = np.stack([ndimage.uniform_filter(position[..., i], 5) for i in range(3)], axis=-1)
    across, down = np.gradient(smooth, axis=1), np.gradient(smooth, axis=0)
    normal = -np.cross(across, down)
    return normal / np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-12)


def boxes(mask: np.ndarray, most: int) -> list:
    """Squares within a surface, one in each of its largest quarters."""
    out = []
    height, width = mask.shape
    rows, columns = np.nonzero(mask)
    if len(rows) < 0.0008 * mask.size:
        return out
    cuts = [(slice(0, height), slice(0, width))]
    if most > 1:
        y, x = int(np.median(rows)), int(np.median(columns))
        cuts = [(a, b) for a in (slice(0, y), slice(y, height)) for b in (slice(0, x), slice(x, width))]
    for cut in cuts:
        part = np.zeros_like(mask)
        part[cut] = mask[cut]
        if part.sum() < 0.0008 * mask.size:
            continue
        row, column, depth = innermost(part)
        if depth >= 5:
            out.append(box_round(row, column, depth, mask.shape))
    return out[:most]


def face_sides(known: dict, frame) -> tuple[np.ndarray, np.ndarray] | None:
    """Skin that the key reaches squarely, and skin that it cannot reach: by the surface's turn, not by its level."""
    if not np.any(known["key"]) or "head" not in known["of"]:
        return None
    head = ndimage.binary_erosion(known["of"]["head"], iterations=2)
    toward = known["key"] - known["position"]
    toward /= np.maximum(np.linalg.norm(toward, axis=-1, keepdims=True), 1e-9)
    facing = (known["normal"] * toward).sum(-1)
    lit, shaded = head & (facing > 0.75), head & (facing < 0.0)
    return (lit, shaded) if min(lit.sum(), shaded.sum()) > 150 else None


def marks(known: dict, frame) -> list[tuple[str, tuple]]:
    out = []
    for name, mask in known["of"].items():
        if name == "none":
            continue
        most = 4 if name in (*GROUND, "room", "yard", "bench", "dressing") else 2 if name in ("figure", "sky") else 1
        out += [(name, b) for b in boxes(ndimage.binary_erosion(mask, iterations=1), most)]
    sides = face_sides(known, frame)
    if sides:
        out += [("head lit", b) for b in boxes(sides[0], 1)] + [("head shaded", b) for b in boxes(sides[1], 1)]
    return out


def covered(labels: np.ndarray, luma: np.ndarray, box: tuple) -> tuple[bool, bool, float]:
    height, width = labels.shape
    x, y, w, h = box
    cut = (
        slice(round(y * height), max(round((y + h) * height), round(y * height) + 1)),
        slice(round(x * width), max(round((x + w) * width), round(x * width) + 1)),
    )
    part = labels[cut].ravel()
    level = float(np.median(luma[cut]))
    numbers, counts = np.unique(part, return_counts=True)
    best = numbers[np.argmax(counts)]
    if counts.max() < 0.7 * len(part):
        return False, False, 0.0
    low, middle, high = np.percentile(luma[labels == best], [10, 50, 90])
    near = abs(middle - level) <= 3.0
    return near, near or low <= level <= high, high - low


def grid_of(shape: tuple[int, int], most: int = 60) -> np.ndarray:
    side = np.sqrt(shape[0] * shape[1] / most)
    rows, columns = max(1, int(shape[0] // side)), max(1, int(shape[1] // side))
    y = np.arange(shape[0]) * rows // shape[0]
    x = np.arange(shape[1]) * columns // shape[1]
    return y[:, None] * columns + x[None]


def major(mask: np.ndarray, known: dict) -> str:
    counts = {n: int((m & mask).sum()) for n, m in known["of"].items()}
    return max(counts, key=lambda n: counts[n])


def judge(taken: Breakdown, known: dict, stem: str) -> tuple[list, list, list]:
    """(role, sure, right, said) of each named zone; lamps (found, name); false lamps."""
    named, falses = [], []
    lamp_masks = {n: m for n, m in known["of"].items() if n.startswith("lamp")}
    for zone in taken.named():
        mask = taken.labels == zone.number
        what = major(mask, known)
        if zone.role == "lamp":
            right = what.startswith("lamp") or (ndimage.binary_dilation(mask, iterations=12) & known["source"]).any()
            if not right:
                falses.append((zone.name, what, round(zone.level)))
        elif zone.role == "ambient":
            right = what in GROUND
        elif zone.role == "silhouette":
            right = what in DARK
        elif zone.role == "sky":
            right = what == "sky"
        elif zone.role in ("key", "fill", "skin"):
            right = what in ("head", "hair")
            if right and zone.role != "skin" and np.any(known["key"]):
                toward = known["key"] - known["position"]
                toward /= np.maximum(np.linalg.norm(toward, axis=-1, keepdims=True), 1e-9)
                facing = float(np.median((known["normal"] * toward).sum(-1)[mask]))
                right = facing > 0.35 if zone.role == "key" else facing < 0.5
        named.append((zone.role, zone.sure, right, f"{stem}: {zone.name} {zone.level:.0f} % lies on {what}"))
    found = []
    lit = taken.frame.luma >= 75.0
    for name, mask in lamp_masks.items():
        if (mask & lit).sum() < LEAST_LAMP * mask.size:
            continue
        hit = any((mask & (taken.labels == z.number)).any() for z in taken.zones if z.role == "lamp")
        found.append((hit, f"{stem}: {name}"))
    return named, found, falses


def renders(folder: Path) -> None:
    cover: list = []
    grid: list = []
    named: list = []
    lamps: list = []
    false: list = []
    faces: list = []
    ratios: list = []
    zones: list = []
    for path in sorted(folder.glob("*_acescct.png")):
        stem = path.name.removesuffix("_acescct.png")
        aov = path.with_name(f"{stem}_aov.npz")
        if not aov.exists():
            continue
        still = read(path)
        known = truth(aov)
        frame = seen(still.pixels, ACES, None).frame
        if known["of"]["none"].shape != frame.luma.shape:
            step = known["of"]["none"].shape[0] / frame.luma.shape[0]
            pick = np.ix_(
                (np.arange(frame.luma.shape[0]) * step).astype(int), (np.arange(frame.luma.shape[1]) * step).astype(int)
            )
            known["of"] = {n: m[pick] for n, m in known["of"].items()}
            for name in ("normal", "position", "source"):
                known[name] = known[name][pick]
        drawn = marks(known, frame)
        start = time.perf_counter()
        found = find_faces(frame.picture)
        taken = break_down(frame, found)
        took = time.perf_counter() - start
        zones.append(len(taken.zones))
        squares = grid_of(frame.luma.shape)
        cover += [(n, *covered(taken.labels, frame.luma, b), stem) for n, b in drawn]
        grid += [covered(squares, frame.luma, b) for _, b in drawn]
        one = judge(taken, known, stem)
        named += one[0]
        lamps += one[1]
        false += [(stem, *f) for f in one[2]]
        head = known["of"].get("head")
        if head is not None and head.mean() > 0.004:
            ys, xs = np.nonzero(head)
            centre = (xs.mean() / head.shape[1], ys.mean() / head.shape[0])
            hit = any(
                f.box[0] < centre[0] < f.box[0] + f.box[2] and f.box[1] - 0.05 < centre[1] < f.box[1] + f.box[3] + 0.05
                for f in found
            )
            faces.append((hit, stem))
        sides = face_sides(known, frame)
        if sides and taken.ratios and taken.ratios[0].ratio.lamps is not None:
            true = float(np.median(frame.stops[sides[0]]) - np.median(frame.stops[sides[1]]))
            ratios.append((stem, true, taken.ratios[0].ratio.stops))
        print(f"{stem}: {len(taken.zones)} zones, {len(drawn)} marks, {took:.1f} s")
    share = lambda rows: f"{100 * np.mean(rows):.0f} %" if len(rows) else "-"  # noqa: E731
    print(f"\nzones at most {max(zones)}; marks {len(cover)}")
    print(
        f"| one zone covers a mark, level within 3 % | {share([c[1] for c in cover])} | square grid {share([g[0] for g in grid])} |"
    )
    print(
        f"| or its 10 to 90 % range holds it | {share([c[2] for c in cover])} | square grid {share([g[1] for g in grid])} |"
    )
    wide = np.median([c[3] for c in cover if c[2]])
    print(f"| median width of that range | {wide:.1f} % | {np.median([g[2] for g in grid if g[1]]):.1f} % |")
    print(f"| roles named right | {share([n[2] for n in named])} of {len(named)} |")
    for sure in ("sure", "likely", "perhaps"):
        rows = [n[2] for n in named if n[1] == sure]
        print(f"|   {sure} | {share(rows)} of {len(rows)} |")
    for role in ("key", "fill", "skin", "lamp", "ambient", "silhouette", "sky"):
        rows = [n[2] for n in named if n[0] == role]
        print(f"|   {role} | {share(rows)} of {len(rows)} |")
    print(f"| lamps found | {share([h for h, _ in lamps])} of {len(lamps)} | false {len(false)} |")
    print(f"| faces found | {share([h for h, _ in faces])} of {len(faces)} |")
    for stem, true, read_ in ratios:
        print(f"| key over fill, {stem} | scene {true:.1f} stops | read {read_:.1f} |")
    print("\nmisses:")
    for _, _, right, said in named:
        if not right:
            print("  ", said)
    for hit, said in lamps:
        if not hit:
            print("   not found:", said)
    print("   false lamps:", false)
    print("   marks not covered:", [(c[0], c[4]) for c in cover if not c[2]])
    print("   faces not found:", [s for h, s in faces if not h])


def photographs(folder: Path) -> None:
    screen = Signal.named("sRGB")
    false_faces = count = 0
    for path in sorted(folder.iterdir()):
        still = read(path)
        frame = seen(still.pixels, screen, None).frame
        found = find_faces(frame.picture)
        taken = break_down(frame, found)
        wanted = FACES.get(path.stem.split("_")[0], 0)
        count += not wanted
        false_faces += bool(not wanted and found)
        said = ", ".join(f"{z.name} {z.level:.0f} ({z.sure})" for z in taken.named())
        print(f"{path.stem}: {len(taken.zones)} zones; faces {len(found)} of {wanted}; {said}")
    print(f"| faces in faceless photographs | {false_faces} of {count} |")


def faces_everywhere(stills: Path) -> None:
    """The sample head at -4 to +2 stops, through three log encodings, and on raw log."""
    hits, tries = 0, 0
    for name in ("close", "close_ep2"):
        scene = ACES.to_scene(smaller(read(stills / f"{name}_acescct.png").pixels))
        for encoding in ("ACEScct", "S-Log3", "V-Log"):
            signal = Signal.named(encoding)
            for stops in (-4, -3, -2, -1, 0, 1, 2):
                code = np.clip(signal.from_scene(scene * 2.0**stops), 0.0, 1.0).astype(np.float32)
                found = find_faces(seen(code, signal, None).frame.picture)
                tries += 1
                hits += bool(found)
                if not found:
                    print("   no face:", name, encoding, stops)
    print(f"| faces at -4 to +2 stops, three log encodings | {hits} of {tries} |")


if __name__ == "__main__":
    renders(Path(sys.argv[1]))
    if len(sys.argv) > 2:
        photographs(Path(sys.argv[2]))
    faces_everywhere(Path(__file__).parents[2] / "sample_images")
