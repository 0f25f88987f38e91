"""``lookwright bake``."""

from __future__ import annotations

from pathlib import Path

import click

from .options import (
    json_option,
    load_look,
    look_argument,
    out_option,
    progress,
    quiet_option,
    size_option,
    strength_option,
    tell,
    tell_json,
)


@click.command()
@look_argument
@out_option("The .cube file to write. Default: the look's name, beside it.", required=False)
@size_option
@strength_option
@json_option
@quiet_option
def command(look: Path, out: Path | None, size: int, strength: float | None, as_json: bool, quiet: bool) -> None:
    """Bake LOOK into a .cube file that says what to feed it and carries its own recipe."""
    from ..errors import LutFileError
    from ..files import check_target
    from ..look.pipeline import compile_look
    from ..lut.bake import SIZES, baked, recipe_hash
    from ..lut.cube import write_cube

    model, text = load_look(look, strength)
    target = out if out is not None else look.with_suffix(".cube")
    pipeline = compile_look(model)
    # Before the work, not after it.
    if target.suffix.lower() != ".cube":
        raise LutFileError(str(target), "the name does not end in .cube", hint="readers go by the ending")
    check_target(target)
    with progress("baking", size**3, quiet or as_json) as advance:
        done = 0

        def step(points: int, _total: int) -> None:
            nonlocal done
            advance(points - done)
            done = points

        lattice = baked(pipeline, text, size, step)
    write_cube(target, lattice)
    data = {
        "file": str(target),
        "size": size,
        "feed": pipeline.source.describe(),
        "gives": pipeline.output.describe(),
        "recipe_sha256": recipe_hash(text),
    }
    if as_json:
        tell_json(data)
    tell(quiet, as_json, f"wrote {target} ({size} points): feed it {data['feed']}; it gives {data['gives']}")
    if size not in SIZES:
        tell(quiet, as_json, f"  sizes that every reader takes are {', '.join(map(str, SIZES))}")
