"""``lookwright bake``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import (
    json_option,
    load_look,
    look_argument,
    out_option,
    progress,
    quiet_option,
    size_option,
    stills_option,
    strength_option,
    tell,
    tell_json,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@click.command()
@look_argument
@out_option("The .cube file to write. Default: the look's name, beside it.", required=False)
@size_option
@strength_option
@click.option(
    "--refine",
    "refined",
    is_flag=True,
    help="Choose the values so that lookups between the points err less, most of all on the stills.",
)
@stills_option(required=False)
@json_option
@quiet_option
def command(
    look: Path,
    out: Path | None,
    size: int,
    strength: float | None,
    refined: bool,
    stills: tuple[Path, ...],
    as_json: bool,
    quiet: bool,
) -> None:
    """Bake LOOK into a .cube file that says what to feed it and carries its own recipe.

    With --refine or --stills it also says how far lookups in the file are from the exact look.
    """
    from lookwright.errors import LutFileError
    from lookwright.files import check_target
    from lookwright.look.baking.bake import SIZES, bake, for_lut, header, recipe_hash
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.lut.formats.cube import write_cube

    from .accuracy import accuracy_data, accuracy_lines

    model, text = load_look(look, strength)
    target = out if out is not None else look.with_suffix(".cube")
    pipeline = for_lut(compile_look(model))
    # Before the work, not after it.
    if target.suffix.lower() != ".cube":
        raise LutFileError(str(target), "the name does not end in .cube", hint="readers go by the ending")
    check_target(target)
    samples = _samples(stills, quiet or as_json) if stills else None
    made_by, report, plain = "", None, None
    with progress("refining" if refined else "baking", 100, quiet or as_json) as advance:
        done = 0

        def step(part: int, total: int) -> None:
            nonlocal done
            advance(100 * part // total - done)
            done = 100 * part // total

        if refined:
            from lookwright.lut.fit.refine import refine

            result = refine(pipeline, size, samples, progress=step)
            lattice, made_by = result.lattice, result.made_by
            report, plain = result.report, result.plain_report
        else:
            lattice = bake(pipeline, size, step)
    if samples is not None and not refined:
        from lookwright.lut.fit.refine import report as judge

        report = judge(pipeline, lattice, samples)
    write_cube(target, lattice, comments=header(pipeline, text, made_by))
    data: dict[str, Any] = {
        "file": str(target),
        "size": size,
        "feed": pipeline.source.describe(),
        "gives": pipeline.output.describe(),
        "recipe_sha256": recipe_hash(text),
    }
    if report:
        data["accuracy"] = accuracy_data(report)
    if refined and plain:
        data["refined"] = {
            "bound": result.bound,
            "worst": round(result.worst, 4),
            "seed": result.seed,
            "samples": result.samples,
            "fingerprint": result.fingerprint,
            "plain_accuracy": accuracy_data(plain),
        }
    if as_json:
        tell_json(data)
    tell(quiet, as_json, f"wrote {target} ({size} points): feed it {data['feed']}; it gives {data['gives']}")
    if size not in SIZES:
        tell(quiet, as_json, f"  sizes that every reader takes are {', '.join(map(str, SIZES))}")
    if report:
        for line in accuracy_lines(report, plain):
            tell(quiet, as_json, line)
    if refined:
        worst = f"{result.worst:.2f} (bound {result.bound:g})"
        tell(quiet, as_json, f"  nowhere measured worse than plain by more than {worst}")


def _samples(stills: tuple[Path, ...], silent: bool) -> NDArray[np.float64]:
    from lookwright.lut.lattices.samples import sample_stills
    from lookwright.pictures.stills import find_stills

    paths = find_stills(stills)
    with progress("reading stills", len(paths), silent) as advance:
        return sample_stills(paths, progress=lambda done, total: advance(1))
