"""``lookwright breakdown``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from lookwright.jobs.given import SignalName

from .map_options import bounds_of, map_options, numbers_of
from .options import json_option, out_option, quiet_option, tell_json
from .terminal import TerminalProgress, show

if TYPE_CHECKING:
    from lookwright.jobs.breakdown import Taken


@click.command()
@click.argument("frames", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FRAME...")
@click.option(
    "--encoding", metavar="NAME", help="Signal encoding of the frames. Default: the look's source, else BT.1886."
)
@click.option("--primaries", metavar="NAME", help="Primaries of the frames, where not those usual for the encoding.")
@click.option(
    "--range",
    "range_",
    type=click.Choice(["full", "legal"]),
    default="full",
    show_default=True,
    help="Range of the frames' code values.",
)
@click.option(
    "--look",
    type=click.Path(path_type=Path),
    help="What log frames are seen through; taken off finished frames in its output encoding.",
)
@click.option(
    "--mine",
    type=click.Path(path_type=Path),
    metavar="STILL",
    help="A still to compare with the frame: what to change on set, part by part, worst first.",
)
@click.option("--mine-encoding", metavar="NAME", help="Its encoding. Default: the look's source, else as the frame.")
@click.option(
    "--camera", metavar="NAME", help="The log encoding of the camera on set. Default: the look's source, else ACEScct."
)
@click.option("--no-faces", is_flag=True, help="Do not look for faces.")
@map_options("percent")
@out_option("Folder for marks.toml and a lighting card (PDF and PNG) of each frame.", required=False)
@json_option
@quiet_option
def command(
    frames: tuple[Path, ...],
    encoding: str | None,
    primaries: str | None,
    range_: Literal["full", "legal"],
    look: Path | None,
    mine: Path | None,
    mine_encoding: str | None,
    camera: str | None,
    no_faces: bool,
    steps: Literal["percent", "stops"],
    bounds: str | None,
    off: str | None,
    out: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Take reference frames apart: zones with their levels, light and warmth, the parts they play, and the ratios.

    A finished frame holds light and grade together: with --look the grade is taken off first. Parts are told with how
    sure they are, and why; nothing is named that the frame does not support. Advice on lamps comes with a caution:
    rigging and mains electricity belong to qualified people, under local codes.
    """
    from lookwright.jobs.breakdown import breakdown

    with TerminalProgress(quiet or as_json) as progress:
        taken = breakdown(
            frames,
            signal=None if encoding is None else SignalName(encoding, primaries, range_),
            look=look,
            mine=mine,
            mine_signal=None if mine_encoding is None else SignalName(mine_encoding),
            camera=None if camera is None else SignalName(camera),
            faces=not no_faces,
            unit=steps,
            bounds=bounds_of(bounds),
            off=numbers_of(off),
            out=out,
            progress=progress,
        )
    if as_json:
        tell_json([t.to_dict() for t in taken])
    elif not quiet:
        for one in taken:
            for line in _lines(one):
                show(line)


def _lines(t: Taken) -> list[str]:
    """One frame, for a person."""
    apart = t.breakdown
    lines = [f"{t.still.name}: {t.signal.describe()}; levels in {apart.frame.shown.encoding.name}"]
    lines += [f"  doubt: {d}" for d in t.doubts]
    lines += [f"  {n}" for n in t.notes]
    told = [*apart.named(), *apart.unnamed()]
    wide = max([len(z.name) for z in told] or [4])
    lines.append(f"  {'':<{wide}}  level %  10..90 %   stops from grey  from key  mired    share")
    for z in told:
        key = "" if z.from_key is None else f"{z.from_key:+.1f}"
        warm = "" if z.warmth is None else f"{z.warmth.mired:+.0f}"
        sure = "" if z.sure is None else f"  {z.sure}: {z.reason}"
        lines.append(
            f"  {z.name:<{wide}}  {z.level:6.1f}   {z.low:4.0f}..{z.high:<4.0f}  {z.stops:+10.1f}       {key:>7}  "
            f"{warm:>5}  {100 * z.share:5.1f} %{sure}"
        )
    lines.append(f"  {len(apart.zones)} zones in all")
    lines += [f"  {r.first} over {r.second}: {r.ratio.in_words()}" for r in apart.ratios]
    for name, curve in apart.lamps:
        steps = ", ".join(f"{v:.0f} % at {d:g}" for d, v in zip(curve.distances, curve.levels, strict=True))
        lines.append(f"  {name} falls off: {steps} (% of the frame's width from its edge)")
    if t.against is not None:
        lines += [f"  {s}" for s in t.against.summary]
        lines += [f"  {g.sentence}" for g in t.against.gaps]
        lines += [f"  only in the reference: {n}" for n in t.against.only_reference]
        lines += [f"  only in mine: {n}" for n in t.against.only_mine]
        lines.append(f"  {t.against.caution}")
    lines += [f"  wrote {f}" for f in t.files]
    return lines
