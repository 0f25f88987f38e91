"""``lookwright clip``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from .clip_options import Seconds, levels_option, matrix_option, range_option
from .options import (
    json_option,
    look_or_lut,
    out_option,
    quiet_option,
    size_option,
    strength_option,
    tell,
    tell_json,
)
from .signals import signal_options
from .terminal import TerminalProgress

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName


@click.command()
@look_or_lut("LOOK_OR_LUT")
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
@signal_options
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
    range_: Literal["legal", "full"] | None,
    levels: Literal["expand", "keep"],
    size: int,
    strength: float | None,
    source: SignalName | None,
    output: SignalName | None,
    correction: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Grade CLIP with LOOK_OR_LUT into an H.264 preview whose colour tags say what it is.

    For looking at, not for delivery: legal range, 4:2:0, no sound. A look whose source range is legal is fed the
    clip's codes as they are.
    """
    from lookwright.jobs.clip import clip as grade_clip

    with TerminalProgress(quiet or as_json) as progress:
        made = grade_clip(
            look,
            clip,
            out,
            first=first,
            last=last,
            depth=10 if depth == "10" else 8,
            quality=quality,
            matrix=matrix,
            range_=range_,
            levels=levels,
            size=size,
            strength=strength,
            source=source,
            output=output,
            correction=correction,
            progress=progress,
        )
    info, tags = made.clip, made.tags
    if as_json:
        tell_json(
            {
                "file": str(out),
                "frames": made.frames,
                "clip": info.to_dict(),
                "levels": made.levels,
                "output": made.output,
                "tags": {"primaries": tags.primaries, "transfer": tags.transfer, "matrix": tags.matrix_code},
                "note": made.note,
            }
        )
        return
    tell(quiet, False, f"{clip.name}: {info.in_words()}")
    for note in (*info.notes, *([made.note] if made.note else [])):
        tell(quiet, False, f"  {note}")
    words = f"{made.encoding}, {made.primaries} primaries, {tags.matrix} matrix, legal range"
    tell(quiet, False, f"wrote {made.frames} frames to {out}: {words}")
