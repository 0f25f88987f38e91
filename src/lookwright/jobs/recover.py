"""Taking the look out of a .cube, and holding the table against it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from lookwright.errors import LutFileError
from lookwright.files import check_new, check_target, write_text
from lookwright.look.baking import recover as recovering
from lookwright.look.baking.recover import Outcome, Recovered

from .bake import read_samples
from .job import job
from .progress import SILENT, Progress


@job(out="look")
def take_out(file: Path, out: Path | None = None, force: bool = False) -> Recovered:
    """The recipe in a .cube that lookwright wrote; written to ``out`` where that is given.

    Byte for byte; only one of an earlier format is brought to the present one.

    Raises :class:`LutFileError` for a file without a recipe, :class:`OutputError` for an ``out`` that is there already
    (unless ``force``) or cannot be written.
    """
    if file.suffix.lower() != ".cube":
        raise LutFileError(str(file), "the name does not end in .cube", hint="recipes are taken out of .cube files")
    found = recovering.recovered(file)
    if out is not None:
        check_new(out, force)
        check_target(out)
        write_text(out, found.text)
    return found


def compare(found: Recovered, stills: Sequence[Path] = (), progress: Progress = SILENT) -> Outcome:
    """Bake the recipe again and hold it against the table; ``stills`` are those a refined table was fitted to."""
    return recovering.compare(found, read_samples(stills, progress) if stills else None)
