"""``lookwright frames``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .clip_options import Seconds, levels_option, matrix_option, range_option, stamp
from .options import json_option, out_option, progress, quiet_option, tell, tell_json

if TYPE_CHECKING:
    from lookwright.pictures.clips.read import Clip, ClipFrame


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
    suffix: str,
    matrix: str | None,
    range_: str | None,
    levels: str,
    encoding: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Take stills out of CLIP (.mov or .mp4), bit depth kept, named by their time.

    Matrix and range come from the clip's tags or from the options, never from a guess that is not told. What lies
    beyond black and white is cut in the files; '--levels keep' leaves room for it.
    """
    from lookwright.colour.spaces.signal import Signal
    from lookwright.files import new_folder
    from lookwright.pictures.clips.read import frames_at, read_clip
    from lookwright.pictures.stills import write

    if bool(times) == (every is not None):
        raise click.UsageError("say which frames: --at TIME (more than once if you like), or --every TIME")
    if every is not None and every <= 0:
        raise click.UsageError("--every must be more than 0")
    signal = Signal.named(encoding) if encoding is not None else None
    info = read_clip(clip, matrix, "full" if range_ == "full" else "legal" if range_ == "legal" else None)
    how = "keep" if levels == "keep" else "expand"
    wanted = list(times) if every is None else _each(info, every)
    written: list[dict[str, object]] = []
    doubts: list[str] = []
    with new_folder(out), progress("reading", len(wanted), quiet or as_json) as advance:
        for frame in frames_at(info, wanted, "keep" if how == "keep" else "expand"):
            target = out / f"{clip.stem}_{stamp(frame.seconds)}.{suffix}"
            words = f"{clip.name} at {frame.seconds:.3f} s: {info.in_words()}, levels {how}"
            write(target, frame.pixels, metadata={"description": words})
            if signal is not None:
                doubts += [f"{target.name}: {d}" for d in _doubts(frame, info, signal, how)]
            written.append({"file": str(target), "seconds": round(frame.seconds, 6)})
            advance(1)
    if as_json:
        tell_json({"clip": info.to_dict(), "levels": how, "stills": written, "doubts": doubts})
        return
    tell(quiet, False, f"{clip.name}: {info.in_words()}")
    for note in (*info.notes, *(f"doubt: {d}" for d in doubts)):
        tell(quiet, False, f"  {note}")
    tell(quiet, False, f"wrote {len(written)} still(s) to {out}")


def _each(info: Clip, every: float) -> list[float]:
    # The end of the last frame is no time of a frame.
    count = max(1, int((info.seconds - 0.5 / float(info.rate)) / every) + 1)
    return [n * every for n in range(count)]


def _doubts(frame: ClipFrame, info: Clip, signal: object, how: str) -> list[str]:
    """What speaks against the declared encoding and range, judged on codes as they stand in the clip."""
    from lookwright.assess.measure.plausible_clip import clip_findings
    from lookwright.colour.spaces.ranges import from_full
    from lookwright.colour.spaces.signal import Signal

    assert isinstance(signal, Signal)
    pixels = frame.pixels
    if info.range == "legal" and how == "expand":
        signal = Signal(signal.encoding, signal.primaries, "legal")
        pixels = from_full(pixels.astype("float64"), "legal").astype("float32")
    return [f.sentence for f in clip_findings(pixels, info, signal)]
