"""The plain rendering of a look's source as a LUT file, to stand beside the look."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from lookwright.files import make_folder
from lookwright.look.baking.bake import bake
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.formats.cube import write_cube
from lookwright.version import __version__


def write_plain(path: Path, look: Look, size: int = 33) -> Path:
    """Bake the look at strength 0 into ``path``; the header says what to feed it."""
    pipeline = compile_look(look.plain())
    comments = (
        "The plain rendering: what the look is judged against",
        f"Feed it: {pipeline.source.describe()}",
        f"It gives: {pipeline.output.describe()}",
        f"Written by lookwright {__version__}",
    )
    make_folder(path.parent)
    write_cube(path, replace(bake(pipeline, size), title="Plain rendering", comments=comments))
    return path
