"""The whole job once for one look: the LUT, a contact sheet, and pairs of before and after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from lookwright.errors import PictureError
from lookwright.files import make_folder
from lookwright.look.baking.bake import baked
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.formats.cube import write_cube
from lookwright.names import Names
from lookwright.outputs import Output
from lookwright.pictures.batch import run_local
from lookwright.pictures.stills import find_stills, read
from lookwright.present.sheets.canvas import fitted, to_image
from lookwright.present.sheets.layouts import PAIR_WIDTH, Frame, contact, pair

from .grading import Grading, Task, turn
from .job import declare, job, later
from .looks import load_look
from .pictures import save
from .progress import SILENT, Progress, ended, part

if TYPE_CHECKING:
    from PIL.Image import Image

SIZE = 33
"""Points on each side of the lattices."""


@dataclass(frozen=True)
class Shown:
    """What was made of one look."""

    cube: Path
    sheet: Path
    pairs: tuple[Path, ...]


@dataclass
class Befores:
    """Stills plainly rendered, at the width they have in a pair: for several looks on the same stills, since most
    looks are rendered alike where they do nothing. Those of one rendering are kept."""

    _digest: bytes = b""
    _by_still: dict[str, Image] = field(default_factory=dict)

    def ready(self, view: View) -> None:
        """Keep what was made only if this look's plain rendering is the same."""
        digest = view.digest(plain=True)
        if digest != self._digest:
            self._digest, self._by_still = digest, {}

    def of(self, still: str) -> Image | None:
        """The picture, if it was made."""
        return self._by_still.get(still)

    def keep(self, still: str, image: Image) -> None:
        """It will be asked for again."""
        self._by_still[still] = image


@job(out=later)
def demo(
    look: Path, stills: Sequence[Path], out: Path, progress: Progress = SILENT, befores: Befores | None = None
) -> Shown:
    """A 33-point .cube, a contact sheet and before/after pairs of one look, in the folder ``out``.

    ``befores`` given to each of several calls spares them work. Raises :class:`LookwrightError` for a look or a still
    that cannot be used.
    """
    paths = find_stills(stills)
    model, text = load_look(look)
    cube, sheet = out / f"{look.stem}.cube", out / f"{look.stem}-sheet.jpg"
    names = Names()
    pairs = [out / names.of(path.stem, f"-{look.stem}-pair.jpg") for path in paths]
    declare([look, paths], [Output(cube, "cube"), *(Output(picture, "picture") for picture in (sheet, *pairs))])
    make_folder(out)
    lattice = baked(compile_look(model), text, SIZE)
    write_cube(cube, lattice)
    view = View(model, SIZE, threads=1, lattice=lattice)  # the stills are spread over the cores
    befores = befores or Befores()
    befores.ready(view)
    view.digest()
    advance = part(progress, f"grading with {model.title}", len(paths))
    small: dict[str, Image] = {}

    def work(task: Task) -> None:
        # Graded once: for the sheet, and for the pair.
        with turn(task):
            still = read(Path(task.still))
            after = to_image(view.graded(still.pixels, no_nan=True))
            before = befores.of(task.still)
            if before is None:
                before = fitted(to_image(view.plain(still.pixels, no_nan=True)), PAIR_WIDTH)
                befores.keep(task.still, before)
        small[task.still] = fitted(after, 640)
        shown = Frame(after, view.look.title or look.stem)
        save(Path(task.target), pair(Frame(before, "plain rendering"), shown, task.heading), view)

    grading = Grading(text, str(look.parent), look.stem, model.strength, SIZE, "pair", "jpg", 0.5)
    tasks = [
        Task(grading, str(path), str(target), f"{path.stem}: {view.output.encoding.name}")
        for path, target in zip(paths, pairs, strict=True)
    ]
    faults: list[PictureError] = []
    with ended(run_local(tasks, work)) as outcomes:
        for outcome in outcomes:
            if isinstance(outcome.fault, PictureError):
                faults.append(outcome.fault)
            elif outcome.fault is not None:
                raise outcome.fault
            advance(1)
    frames = [Frame(small[str(path)], path.stem) for path in paths if str(path) in small]
    if frames:
        save(sheet, contact(frames, f"{view.look.title or look.stem}: {view.output.describe()}"), view)
    for fault in faults:
        raise fault
    return Shown(cube, sheet, tuple(sorted(pairs)))
