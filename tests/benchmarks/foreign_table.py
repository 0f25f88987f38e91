"""Files that other libraries keep for their own tests, through ``preview`` and through OpenColorIO: a table.

    python tests/benchmarks/foreign_table.py FOLDER [FOLDER ...] [--files]

Each FOLDER is searched for .cube, .clf, .cc, .ccc and .cdl. Those of OpenColorIO (BSD-3-Clause) come in its source
archive, ``pip download --no-deps --no-binary opencolorio opencolorio``, under ``tests/data/files``; those of
colour-science (BSD-3-Clause) in its wheel, under ``colour/io/luts/tests/resources``. The picture is noise and ramps,
fed as BT.1886 and shown as BT.1886, so that what the file does is all there is. ``preview`` writes 16 bits (half a code
is 7.6e-6); beside it the same floats from -0.5 to 2 before they are written, relative above 1.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))
from foreign_files import ENDINGS, by_ocio, by_preview, by_view, kind_of, noise_and_ramps, relative, write_still

from lookwright.errors import LookwrightError
from lookwright.lut.formats.cdl import SUFFIXES, read_cdl

ALLOWED = 2e-4
WIDE = noise_and_ramps(-0.5, 2.0)


@dataclass
class Row:
    """One file, or one correction of it."""

    name: str
    kind: str
    ours: str = ""
    """Why lookwright refuses it."""
    theirs: str = ""
    """Why OpenColorIO does."""
    shown: float = np.nan
    """Largest difference of the previews, 0 to 1."""
    wide: float = np.nan
    """Largest difference of the floats."""


def corrections(path: Path) -> list[tuple[str | None, str | None]]:
    """What to ask for here and there; one pair of None where there is nothing to choose.

    One without an id goes by its place: from 1 behind a # here, from 0 in OpenColorIO.
    """
    if path.suffix not in SUFFIXES:
        return [(None, None)]
    try:
        found = read_cdl(path)
    except LookwrightError:
        return [(None, None)]
    if len(found) == 1:
        return [(None, None)]
    return [(c.id, c.id) if c.id else (f"#{i + 1}", str(i)) for i, c in enumerate(found)]


def by_colour(path: Path, pixels: np.ndarray) -> np.ndarray:
    """colour-science's reading of a .cube, clamped to its domain as it does not do itself."""
    import colour
    from colour.algebra import table_interpolation_tetrahedral

    lut = colour.read_LUT(str(path))
    x = pixels.astype(np.float64)
    for part in getattr(lut, "sequence", [lut]):
        x = np.clip(x, part.domain[0], part.domain[-1])
        solid = isinstance(part, colour.LUT3D)
        x = part.apply(x, interpolator=table_interpolation_tetrahedral) if solid else part.apply(x)
    return x


def row(path: Path, root: Path, still: Path, pixels: np.ndarray, asked: tuple[str | None, str | None]) -> Row:
    """Both readings, compared where both read."""
    wanted, there = asked
    name = path.relative_to(root).as_posix() + (f":{wanted}" if wanted else "")
    made = Row(name, kind_of(path))
    with tempfile.TemporaryDirectory() as folder:
        try:
            ours, wide = by_preview(path, still, Path(folder), wanted), by_view(path, WIDE, wanted)
        except LookwrightError as exc:
            made.ours = exc.line().replace(str(path), "").lstrip(": ,")
    try:
        theirs, their_wide = by_ocio(path, pixels, there), by_ocio(path, WIDE, there)
    except Exception as exc:
        made.theirs = " ".join(str(exc).replace(str(path), path.name).split())[:60]
        if path.suffix == ".cube" and not made.ours:
            gap = np.abs(ours - np.clip(by_colour(path, pixels), 0, 1)).max()
            made.theirs += f"... (from colour-science's reading: {gap:.1e})"
    if not made.ours and not made.theirs:
        made.shown = float(np.abs(ours - np.clip(theirs, 0, 1)).max())
        made.wide = relative(wide, their_wide)
    return made


def rows(folders: list[Path]) -> Iterator[Row]:
    """Every file, in order."""
    with tempfile.TemporaryDirectory() as folder:
        still = Path(folder) / "still.png"
        pixels = write_still(still)
        for root in folders:
            for path in sorted(p for p in root.rglob("*") if p.suffix in ENDINGS):
                for asked in corrections(path):
                    yield row(path, root, still, pixels, asked)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--files", action="store_true", help="a line for every file too")
    options = parser.parse_args()
    found = list(rows(options.folders))
    if options.files:
        print("| file | kind | preview | floats -0.5..2 |\n|---|---|---|---|")
        for r in found:
            if not r.ours and not r.theirs:
                print(f"| {r.name} | {r.kind} | {r.shown:.1e} | {r.wide:.1e} |")
        print("\n| refused by both | lookwright says |\n|---|---|")
        for r in found:
            if r.ours and r.theirs:
                print(f"| {r.name} | {r.ours} |")
        print()
    print(f"| kind | compared | equal to {ALLOWED:g} | worst in preview | worst as floats |\n|---|---|---|---|---|")
    by_kind: dict[str, list[Row]] = defaultdict(list)
    for r in found:
        if not r.ours and not r.theirs:
            by_kind[r.kind].append(r)
    for kind, same in sorted(by_kind.items()):
        equal = sum(r.shown <= ALLOWED for r in same)
        worst, wide = max(r.shown for r in same), max(r.wide for r in same)
        print(f"| {kind} | {len(same)} | {equal} | {worst:.1e} | {wide:.1e} |")
    both = sum(bool(r.ours and r.theirs) for r in found)
    print(
        f"\n{len(found)} in all; compared: {sum(map(len, by_kind.values()))}; refused by both: {both}\n\n| refused by one | by | why |\n|---|---|---|"
    )
    for r in found:
        if bool(r.ours) != bool(r.theirs):
            print(f"| {r.name} | {'lookwright' if r.ours else 'OpenColorIO'} | {r.ours or r.theirs} |")


if __name__ == "__main__":
    main()
