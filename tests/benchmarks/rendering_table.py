"""What the renderings do to lights, charts, skins, displays and lattices, each figure against what is asked of it.

    python tests/benchmarks/rendering_table.py [--photographs FOLDER] [--only figures|trips|lattices|cost]

Beside the plain rendering and the print stand those the program had before (``former``) and ACES 2 of OpenColorIO.
Inputs: the lights of colour/film/lamps.py, the skins of colour/film/skins.py, the 24-patch chart, the sample stills
and, where a folder is named, its photographs.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))

from rendering_lattices import lattice_errors
from rendering_methods import aces2, aces2_hdr, former_plain, former_print, step
from rendering_rows import LIMITS, rows
from rendering_scenes import light_of, photographs
from rendering_trips import TRIPS, trip

from lookwright.colour.film.lamps import emitters
from lookwright.colour.spaces import curves
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.lattices.samples import sample_stills, spread
from lookwright.pictures.stills import find_stills

ROOT = Path(__file__).parents[2]
Method = Callable[[np.ndarray], np.ndarray]


def figures() -> None:
    """The rows of the table, one a line, with what is asked of the plain rendering and the print."""
    sdr: dict[str, Method] = {
        "former plain": former_plain(),
        "former print": former_print(),
        "ACES 2": aces2(),
        "plain": step("render"),
        "print": step("print"),
    }
    hdr = {"ACES 2": aces2_hdr(), "plain": step("render", "BT.2100 PQ"), "print": step("print", "BT.2100 PQ")}
    found = {name: rows(sdr[name], hdr.get(name)) for name in sdr}
    print(f"{'':46}" + "".join(f"{n:>30}" for n in sdr))
    for title in found["plain"]:
        cells = []
        for name in sdr:
            values = found[name].get(title)
            asked = LIMITS[title].get(name) if title in LIMITS else None
            text = "" if values is None else "/".join(f"{v:.3g}" for v in values)
            if values is not None and asked is not None:
                text += " ok" if asked.met(values) else f" MISSED {asked}"
            cells.append(f"{text:>30}")
        print(f"{title:46}" + "".join(cells))


def trips() -> None:
    """Display pictures through the inverse and back."""
    print("\nround trips of display signals: share within 1e-6, worst and 99.9 % CIEDE2000")
    for name, top in TRIPS.items():
        t = trip(name, top * spread(200000, 3, 3))
        print(f"  {name:12} finite {t.finite}, {100 * t.same:.4f} %, worst {t.errors.max():.2f}, ", end="")
        print(f"{np.quantile(t.errors, 0.999):.2f}; beyond 3: {int((t.errors > 3.0).sum())} of {len(t.errors)}")


def _drawn(light: np.ndarray, n: int = 2000) -> np.ndarray:
    """``n`` pixels spread over a photograph, so that each photograph counts alike whatever its size."""
    return light[(spread(n, 1, 7)[:, 0] * len(light)).astype(int)]


def contents(folder: Path | None) -> dict[str, np.ndarray]:
    """ACEScg (n, 3) of what lattices are judged on."""
    stills = sample_stills(find_stills([ROOT / "sample_images"]), 12000, 11)
    found = {"stills": Signal.named("ACEScct").to_scene(stills).reshape(-1, 3)}
    pictures = photographs(folder)
    if pictures:
        found["photographs"] = np.concatenate([_drawn(light_of(p).reshape(-1, 3)) for p in pictures.values()])
    lights = np.array(list(emitters().values()))
    at = spread(12000, 3, 5)
    pure = lights[(at[:, 0] * len(lights)).astype(int)]
    mixed = pure * at[:, 1:2] + 0.18 * (1 - at[:, 1:2])
    return {**found, "sweeps": mixed * 2.0 ** (-6.0 + 14.0 * at[:, 2:3])}


def lattices(folder: Path | None) -> None:
    """Lattices of 33 points against the renderings themselves, and against the former rendering's."""
    print("\n33 points, plain sampling: mean CIEDE2000 trilinear / tetrahedral (x the former)")
    for source in ("ACEScct", "S-Log3"):
        for now, before, asked in (
            (step("render"), former_plain(), "plain"),
            (step("print"), former_print(), "print"),
        ):
            for kind, scene in contents(folder).items():
                new, old = (lattice_errors(r, source, scene) for r in (now, before))
                print(f"  {asked} {source:8} {kind:12} ", end="")
                print(f"{new[0]:.3f} / {new[1]:.3f}  ({new[0] / old[0]:.2f} x / {new[1] / old[1]:.2f} x)")


def cost(folder: Path | None) -> None:
    """Time of a colour, the best of five runs in turn."""
    g = np.linspace(0.0, 1.0, 33)
    cube = curves.acescct_decode(np.stack(np.meshgrid(g, g, g, indexing="ij"), -1).reshape(-1, 3))
    methods = {"former plain": former_plain(), "plain": step("render")}
    methods |= {"former print": former_print(), "print": step("print")}
    print("\ncost of a colour, ns")
    for kind, scene in {"33-point ACEScct lattice": cube, **contents(folder)}.items():
        best = dict.fromkeys(methods, np.inf)
        for _ in range(5):
            for name, method in methods.items():
                start = time.perf_counter()
                method(scene)
                best[name] = min(best[name], (time.perf_counter() - start) / len(scene) * 1e9)
        ratios = (
            f"plain {best['plain'] / best['former plain']:.2f} x, print {best['print'] / best['former print']:.2f} x"
        )
        print(f"  {kind}: " + ", ".join(f"{n} {v:.0f}" for n, v in best.items()) + f": {ratios}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photographs", type=Path)
    parser.add_argument("--only", choices=("figures", "trips", "lattices", "cost"))
    given = parser.parse_args()
    parts = {
        "figures": figures,
        "trips": trips,
        "lattices": lambda: lattices(given.photographs),
        "cost": lambda: cost(given.photographs),
    }
    for name, part in parts.items():
        if given.only in (None, name):
            part()


if __name__ == "__main__":
    main()
