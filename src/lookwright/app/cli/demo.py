"""``lookwright demo``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from .options import out_option, progress, quiet_option, tell


@click.command()
@out_option("Folder for the results; 'demo' when left out.", required=False)
@quiet_option
def command(out: Path | None, quiet: bool) -> None:
    """Make the whole job once from the sample stills: bake every look of looks/, and preview it.

    Run it in a checkout of the project. Makes a 33-point .cube, a contact sheet and before/after pairs for each look.
    """
    from lookwright.errors import LookwrightError
    from lookwright.files import make_folder
    from lookwright.look.baking.bake import baked
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.lut.formats.cube import write_cube
    from lookwright.pictures.stills import find_stills

    from .options import load_look
    from .pictures import Job, write_previews

    root = next((p for p in (Path.cwd(), Path(__file__).parents[4]) if (p / "sample_images").is_dir()), None)
    looks = sorted((root / "looks").glob("*.toml")) if root else []
    if root is None or not looks:
        raise LookwrightError("demo", "the sample stills and looks are not here", hint="run it in a checkout")
    folder = make_folder(out or Path("demo"))
    stills = find_stills([root / "sample_images"])
    for path in looks:
        look, text = load_look(path)
        target = folder / f"{path.stem}.cube"
        write_cube(target, baked(compile_look(look), text))
        tell(quiet, False, f"wrote {target}")
        job = Job(text, str(path.parent), path.stem, look.strength, 33, "sheet", "jpg", 0.5)
        with progress(f"grading with {look.title}", 2 * len(stills), quiet) as advance:
            sheets, _, faults = write_previews(job, stills, folder, advance)
            pairs, ready, more = write_previews(replace(job, layout="pair"), stills, folder, advance)
        for fault in (*faults, *more):
            raise fault
        tell(quiet, False, f"wrote {sheets[0]} and {len(pairs) + len(ready)} before/after pairs")
