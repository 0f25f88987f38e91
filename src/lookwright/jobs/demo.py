"""The whole job once for one look: the LUT, a contact sheet, and pairs of before and after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lookwright.files import make_folder
from lookwright.look.baking.bake import baked
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.formats.cube import write_cube
from lookwright.outputs import Output
from lookwright.pictures.stills import find_stills

from .grading import Grading
from .job import declare, job, later
from .looks import load_look
from .preview import targets, write_previews
from .progress import SILENT, Progress, part


@dataclass(frozen=True)
class Shown:
    """What was made of one look."""

    cube: Path
    sheet: Path
    pairs: tuple[Path, ...]


def _gradings(look: Path, model: Look, text: str) -> tuple[Grading, Grading]:
    """The sheet and the pairs."""
    sheet = Grading(text, str(look.parent), look.stem, model.strength, 33, "sheet", "jpg", 0.5)
    return sheet, replace(sheet, layout="pair")


@job(out=later)
def demo(look: Path, stills: Sequence[Path], out: Path, progress: Progress = SILENT) -> Shown:
    """A 33-point .cube, a contact sheet and before/after pairs of one look, in the folder ``out``.

    Raises :class:`LookwrightError` for a look or a still that cannot be used.
    """
    paths = find_stills(stills)
    model, text = load_look(look)
    cube = out / f"{look.stem}.cube"
    sheet, pair = _gradings(look, model, text)
    files = [Output(cube, "cube"), *targets(sheet, paths, out), *targets(pair, paths, out)]
    declare([look, paths], files)
    folder = make_folder(out)
    write_cube(cube, baked(compile_look(model), text))
    advance = part(progress, f"grading with {model.title}", 2 * len(paths))
    sheets = write_previews(sheet, paths, folder, advance)
    pairs = write_previews(pair, paths, folder, advance)
    for fault in (*sheets.faults, *pairs.faults):
        raise fault
    return Shown(cube, sheets.written[0], (*pairs.written, *pairs.ready))
