"""``lookwright frames``."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from .clip_options import Seconds, levels_option, matrix_option, range_option
from .options import json_option, out_option, quiet_option, tell, tell_json
from .terminal import TerminalProgress


@click.command()
@click.argument("clip", type=click.Path(path_type=Path), metavar="CLIP")
@click.option(
    "--at",
    "times",
    multiple=True,
    type=Seconds(),
    metavar="TIME",
    help="A moment, in seconds or as M:SS. May be given more than once.",
)
@click.option("--every", type=Seconds(), metavar="TIME", help="One frame each so many seconds, from the first on.")
@out_option("Folder for the stills.")
@click.option(
    "--format",
    "suffix",
    type=click.Choice(["png", "tif", "dpx"]),
    default="png",
    show_default=True,
    help="png and tif have 16 bits, dpx 10.",
)
@matrix_option
@range_option
@levels_option
@click.option("--encoding", help="What the clip is said to carry, such as 'S-Log3': the stills are checked against it.")
@json_option
@quiet_option
def command(
    clip: Path,
    times: tuple[float, ...],
    every: float | None,
    out: Path,
    suffix: Literal["png", "tif", "dpx"],
    matrix: str | None,
    range_: Literal["legal", "full"] | None,
    levels: Literal["expand", "keep"],
    encoding: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Take stills out of CLIP (.mov or .mp4), bit depth kept, named by their time.

    Matrix and range come from the clip's tags or from the options, never from a guess that is not told. What lies
    beyond black and white is cut in the files; '--levels keep' leaves room for it.
    """
    from lookwright.jobs.frames import frames

    with TerminalProgress(quiet or as_json) as progress:
        made = frames(
            clip,
            out,
            times=times,
            every=every,
            suffix=suffix,
            matrix=matrix,
            range_=range_,
            levels=levels,
            encoding=encoding,
            progress=progress,
        )
    info = made.clip
    if as_json:
        stills = [{"file": str(t.file), "seconds": round(t.seconds, 6)} for t in made.stills]
        tell_json({"clip": info.to_dict(), "levels": levels, "stills": stills, "doubts": list(made.doubts)})
        return
    tell(quiet, False, f"{clip.name}: {info.in_words()}")
    for note in (*info.notes, *(f"doubt: {d}" for d in made.doubts), *(f"names: {n}" for n in made.names)):
        tell(quiet, False, f"  {note}")
    tell(quiet, False, f"wrote {len(made.stills)} still(s) to {out}")
