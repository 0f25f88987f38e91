"""Sheets to look at: lights over exposures, skins, scenes and photographs through the renderings, side by side.

    python tests/benchmarks/rendering_sheets.py FOLDER_TO_WRITE [--photographs FOLDER] [--print skew=10 ...]

Each ``--print`` adds a column: a print with those values.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))

from rendering_methods import aces2, former_plain, former_print, step
from rendering_scenes import light_of, photographs, scenes

from lookwright.colour.film.lamps import emitters
from lookwright.colour.film.skins import LIGHTS, skins
from lookwright.colour.spaces.primaries import matrix

STOPS = np.arange(-4.0, 10.1)
TO_709 = matrix("BT.2020", "BT.709").T
Method = Callable[[np.ndarray], np.ndarray]


def code(light: np.ndarray) -> np.ndarray:
    """8-bit BT.1886 of BT.2020 light."""
    return np.round(255.0 * np.clip(light @ TO_709, 0.0, 1.0) ** (1 / 2.4)).astype(np.uint8)


def _blocks(rows: dict[str, np.ndarray], method: Method, size: tuple[int, int]) -> Image.Image:
    """Each row of colours (n, 3) as n flat blocks."""
    table = np.stack([code(method(x)) for x in rows.values()])
    tall = np.repeat(np.repeat(table, size[0], axis=0), size[1], axis=1)
    tall[size[0] - 2 :: size[0]] = 190
    return Image.fromarray(tall)


def _sheet(path: Path, columns: dict[str, list[Image.Image]], names: Sequence[str] = (), height: int = 0) -> None:
    left = 8 + 7 * max((len(n) for n in names), default=0)
    wide = max(i.width for c in columns.values() for i in c) + 8
    tall = [max(c[k].height for c in columns.values()) + 6 for k in range(len(next(iter(columns.values()))))]
    sheet = Image.new("RGB", (left + wide * len(columns), 22 + sum(tall)), (190, 190, 190))
    draw = ImageDraw.Draw(sheet)
    for j, (name, images) in enumerate(columns.items()):
        draw.text((left + j * wide, 4), name, fill=(20, 20, 20))
        for k, image in enumerate(images):
            sheet.paste(image, (left + j * wide, 22 + sum(tall[:k])))
    for i, name in enumerate(names):
        draw.text((4, 22 + i * height), name, fill=(20, 20, 20))
    sheet.save(path)


def write_all(folder: Path, methods: dict[str, Method], pictures: dict[str, Path]) -> None:
    """emitters.png, skins.png, scenes.png and, with photographs, photographs.png."""
    lights = {n: x * 2.0 ** STOPS[:, None] for n, x in emitters().items()}
    _sheet(folder / "emitters.png", {n: [_blocks(lights, m, (16, 22))] for n, m in methods.items()}, list(lights), 16)
    rows = {f"{light} {k:+d}": skins(light) * 2.0**k for light in LIGHTS for k in (-3, -1, 0, 1, 2, 3)}
    _sheet(folder / "skins.png", {n: [_blocks(rows, m, (20, 14))] for n, m in methods.items()}, list(rows), 20)
    made = scenes()
    _sheet(folder / "scenes.png", {n: [Image.fromarray(code(m(x))) for x in made.values()] for n, m in methods.items()})
    if pictures:
        light = [light_of(p)[:220, :280] * 2.0**k for p in pictures.values() for k in (0, 2)]
        columns = {n: [Image.fromarray(code(m(x))) for x in light] for n, m in methods.items()}
        _sheet(folder / "photographs.png", columns)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--photographs", type=Path)
    parser.add_argument("--print", nargs="+", action="append", default=[], metavar="NAME=VALUE")
    given = parser.parse_args()
    methods: dict[str, Method] = {
        "former plain": former_plain(),
        "plain": step("render"),
        "former print": former_print(),
        "print": step("print"),
        "ACES 2": aces2(),
    }
    for words in given.print:
        values = {n: float(v) for n, v in (w.split("=") for w in words)}
        methods["print " + " ".join(words)] = step("print", **values)
    given.folder.mkdir(parents=True, exist_ok=True)
    write_all(given.folder, methods, photographs(given.photographs))


if __name__ == "__main__":
    main()
