"""What the shipped looks do and how far they hold back, on their own stills and on foreign photographs.

    python tests/benchmarks/looks_table.py [--photographs FOLDER] [--only LOOK ...] [--frames]

Each look belongs to a class (subtle, medium, strong) and to a kind of light; what is asked of it follows from both.
Own stills are those of its situation. The photographs are never fitted to: restraint is asked of them too, and what the
look gives is told. Exit 1 where something is not met.
"""

from __future__ import annotations

import argparse
import sys
import tomllib
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))

from look_measures import Scene, of_lattice, of_look
from rendering_scenes import light_of, photographs

from lookwright.assess.restraint.subject import subject_of_look
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.read import read_look
from lookwright.pictures.stills import read

ROOT = Path(__file__).parents[2]
PIXELS = 3000
NIGHT = ("wide", "close", "close_ep2", "insert")
LOOKS: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "quiet-bench": ("subtle", "day", ("close", "insert", "day", "sunny", "warm")),
    "everyday-daylight": ("subtle", "day", ("day", "sunny")),
    "night-workshop": ("medium", "night", NIGHT),
    "overcast": ("medium", "day", ("day", "yard")),
    "lamplit-faces": ("medium", "warm", ("close", "insert", "warm")),
    "late-sun": ("medium", "day", ("day", "sunny")),
    "blue-hour": ("strong", "night", ("wide", "bluehour")),
    "first-frame": ("strong", "night", NIGHT),
}
"""Class, kind of light and own stills of each look."""

ASKED: dict[str, dict[str, tuple[float, float]]] = {
    "subtle": {
        "difference": (2.2, 2.8),
        "separation night": (6.0, np.inf),
        "separation day": (5.0, np.inf),
        "separation warm": (-np.inf, np.inf),
        "chroma": (1.02, np.inf),
        "contrast": (1.15, 1.2),
        "face difference": (0.0, 2.0),
        "face turn": (0.0, 2.0),
        "sky turn": (0.0, 3.0),
        "leaves turn": (0.0, 4.0),
        "grey card": (0.0, 1.0),
        "scale": (0.0, 2.5),
        "noise": (0.0, 1.4),
        "shadow noise": (0.0, 1.2),
        "red texture": (0.75, np.inf),
        "black": (0.0, 2.5),
        "33 points": (0.0, 0.20),
    },
    "medium": {
        "difference": (3.0, 3.8),
        "separation night": (16.0, np.inf),
        "separation day": (10.0, np.inf),
        "separation warm": (6.0, np.inf),
        "chroma": (1.06, np.inf),
        "contrast": (1.2, 1.3),
        "face difference": (0.0, 3.0),
        "face turn": (0.0, 2.5),
        "sky turn": (0.0, 4.0),
        "leaves turn": (0.0, 4.0),
        "grey card": (0.0, 1.2),
        "scale": (0.0, 2.5),
        "noise": (0.0, 1.7),
        "shadow noise": (0.0, 1.4),
        "red texture": (0.8, np.inf),
        "black": (0.0, 2.5),
        "33 points": (0.0, 0.25),
    },
    "strong": {
        "difference": (4.0, 4.8),
        "separation night": (27.0, np.inf),
        "separation day": (18.0, np.inf),
        "separation warm": (12.0, np.inf),
        "chroma": (1.15, np.inf),
        "contrast": (1.3, 1.4),
        "face difference": (0.0, 3.5),
        "face turn": (0.0, 2.5),
        "sky turn": (0.0, 5.0),
        "leaves turn": (0.0, 4.0),
        "grey card": (0.0, 1.8),
        "scale": (0.0, 3.0),
        "noise": (0.0, 2.3),
        "shadow noise": (0.0, 1.4),
        "red texture": (0.78, np.inf),
        "black": (0.0, 2.0),
        "33 points": (0.0, 0.35),
    },
}
"""Least and most of each figure, by class."""

ROLES = {"skin": "face", "sky": "sky", "leaves": "leaves"}
MEANS, WORST = ("difference", "separation", "chroma"), ("face difference", "face turn", "sky turn", "leaves turn")


def scene_of(still: Path, marks: dict[str, dict[str, object]]) -> Scene:
    """Evenly drawn pixels of an ACEScct still and the mean light of its marked faces, skies and leaves."""
    codes = np.asarray(read(still).pixels, np.float64)
    light = Signal.named("ACEScct").to_scene(codes)
    height, width = light.shape[:2]
    boxes: dict[str, list[np.ndarray]] = {}
    for name, mark in marks.items():
        role = ROLES.get(str(mark["role"]), "face" if mark["role"] == "key" and "face" in name else None)
        if role is None:
            continue
        x, y, w, h = mark["box"]  # type: ignore[misc]
        box = light[int(y * height) : int((y + h) * height) + 1, int(x * width) : int((x + w) * width) + 1]
        boxes.setdefault(role, []).append(box.reshape(-1, 3).mean(axis=0))
    flat = light.reshape(-1, 3)
    return Scene(flat[np.linspace(0, len(flat) - 1, PIXELS).astype(int)], boxes)


def own_scenes() -> dict[str, Scene]:
    """The sample stills by name."""
    found = {}
    for folder in (ROOT / "sample_images", ROOT / "sample_images/more"):
        if not (folder / "marks.toml").exists():
            continue
        marks = tomllib.loads((folder / "marks.toml").read_text(encoding="utf-8"))
        for still in sorted(folder.glob("*_acescct.png")):
            name = still.stem.removesuffix("_acescct")
            found[name] = scene_of(still, marks.get(name, {}))
    return found


def foreign_scenes(folder: Path | None) -> dict[str, Scene]:
    """Photographs of others, evenly drawn."""
    found = {}
    for name, path in photographs(folder).items():
        flat = light_of(path).reshape(-1, 3)
        found[name] = Scene(flat[np.linspace(0, len(flat) - 1, PIXELS).astype(int)])
    return found


def gathered(found: dict[str, dict[str, float]], names: list[str], marked: list[str]) -> dict[str, float]:
    """Means over a look's frames of what it gives; the worst over all marked frames of how it holds back."""
    out = {k: float(np.mean([found[n][k] for n in names if k in found[n]] or [np.nan])) for k in MEANS}
    worst = {k: [found[n][k] for n in marked if k in found[n]] for k in WORST}
    return out | {k: max(v) for k, v in worst.items() if v}


def row(name: str, found: dict[str, float], asked: dict[str, tuple[float, float]]) -> list[str]:
    """Print a line; what is not met has its limits behind it, and comes back."""
    short, cells = [], []
    for key, value in found.items():
        low, high = asked.get(key, (-np.inf, np.inf))
        cell = f"{key} {value:.2f}"
        if not low - 0.005 <= value <= high + 0.005 and not np.isnan(value):
            cell += f" [{low:g}..{high:g}]"
            short.append(f"{name}: {cell}")
        cells.append(cell)
    print(f"  {name:18} " + "  ".join(cells))
    return short


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photographs", type=Path)
    parser.add_argument("--only", nargs="+", default=list(LOOKS))
    parser.add_argument("--frames", action="store_true", help="each frame too")
    given = parser.parse_args()
    own, foreign = own_scenes(), foreign_scenes(given.photographs)
    every = own | foreign
    lattice_at = np.concatenate([s.pixels for s in own.values()])
    short: list[str] = []
    for name in given.only:
        strength, light, stills = LOOKS[name]
        look = read_look(ROOT / f"looks/{name}.toml")
        found = of_look(look, every)
        asked = ASKED[strength] | {"separation": ASKED[strength][f"separation {light}"]}
        print(f"{name} ({strength}, {light})")
        mine = [n for n in stills if n in own]
        short += row("own stills", gathered(found, mine, mine), asked)
        row("all stills", gathered(found, list(own), list(own)), asked)
        itself = found["look"] | {"33 points": of_lattice(subject_of_look(look), lattice_at)}
        short += row("itself", itself, asked)
        if foreign:
            row("photographs", gathered(found, list(foreign), []), {})
        if given.frames:
            for frame in every:
                row(frame, found[frame], {})
    print("\n".join(["short:", *short] if short else ["all met"]))
    return 1 if short else 0


if __name__ == "__main__":
    sys.exit(main())
