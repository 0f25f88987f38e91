"""``lookwright clip``."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .clip_options import Seconds, levels_option, matrix_option, range_option
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

if TYPE_CHECKING:
    from lookwright.look.baking.viewing import View
    from lookwright.pictures.clips.read import Clip, ClipFrame


@click.command()
@look_argument
@click.argument("clip", type=click.Path(path_type=Path), metavar="CLIP")
@out_option("The graded clip, a name ending in .mp4.")
@click.option("--from", "first", type=Seconds(), default=0.0, metavar="TIME", help="Where to begin.")
@click.option("--to", "last", type=Seconds(), metavar="TIME", help="Where to end.")
@click.option(
    "--depth", type=click.Choice(["8", "10"]), default="8", show_default=True, help="Bits; every player shows 8."
)
@click.option(
    "--quality",
    type=click.IntRange(0, 51),
    default=16,
    show_default=True,
    help="Rate factor of the encoder: 0 loses nothing, 51 is worst.",
)
@matrix_option
@range_option
@levels_option
@size_option
@strength_option
@json_option
@quiet_option
def command(
    look: Path,
    clip: Path,
    out: Path,
    first: float,
    last: float | None,
    depth: str,
    quality: int,
    matrix: str | None,
    range_: str | None,
    levels: str,
    size: int,
    strength: float | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Grade CLIP with LOOK into an H.264 preview whose colour tags say what it is.

    For looking at, not for delivery: legal range, 4:2:0, no sound. A look whose source range is legal is fed the
    clip's codes as they are.
    """
    from lookwright.files import check_target
    from lookwright.look.baking.viewing import View
    from lookwright.pictures.clips.read import read_clip
    from lookwright.pictures.clips.write import tags_for, write_clip

    if last is not None and last <= first:
        raise click.UsageError("--to must be later than --from")
    view = View(load_look(look, strength)[0], size)
    tags = tags_for(view.output.encoding.name, view.output.primaries.name)
    info = read_clip(clip, matrix, "full" if range_ == "full" else "legal" if range_ == "legal" else None)
    keep = levels == "keep" or view.pipeline.source.range == "legal"
    check_target(out)
    seconds = max(0.0, min(info.seconds, float("inf") if last is None else last) - first)
    with progress("grading", max(1, round(seconds * float(info.rate))), quiet or as_json) as advance:
        graded = _graded(info, view, first, last, keep, advance)
        count = write_clip(out, graded, info.rate, tags, int(depth), quality)
    if as_json:
        tell_json(
            {
                "file": str(out),
                "frames": count,
                "clip": info.to_dict(),
                "levels": "keep" if keep else "expand",
                "output": view.output.describe(),
                "tags": {"primaries": tags.primaries, "transfer": tags.transfer, "matrix": tags.matrix_code},
                "note": view.note,
            }
        )
        return
    tell(quiet, False, f"{clip.name}: {info.in_words()}")
    for note in (*info.notes, *([view.note] if view.note else [])):
        tell(quiet, False, f"  {note}")
    words = f"{view.output.encoding.name}, {view.output.primaries.name} primaries, {tags.matrix} matrix, legal range"
    tell(quiet, False, f"wrote {count} frames to {out}: {words}")


def _graded(
    info: Clip, view: View, first: float, last: float | None, keep: bool, advance: Callable[[int], None]
) -> Iterator[ClipFrame]:
    from dataclasses import replace

    import numpy as np

    from lookwright.colour.spaces.ranges import to_full
    from lookwright.pictures.clips.read import all_frames

    for frame in all_frames(info, first, float("inf") if last is None else last, "keep" if keep else "expand"):
        shown = view.graded(frame.pixels, no_nan=True)
        if view.output.range == "legal":
            shown = np.asarray(to_full(shown.astype(np.float64), "legal"), np.float32)
        yield replace(frame, pixels=shown)
        advance(1)
