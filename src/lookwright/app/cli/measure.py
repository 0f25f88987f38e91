"""``lookwright measure``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from lookwright.jobs.given import SignalName

from .options import json_option, out_option, quiet_option, stills_option, tell_json
from .signals import signal_options
from .terminal import TerminalProgress, show

if TYPE_CHECKING:
    from lookwright.assess.measure.levels import Level, SignalLevel
    from lookwright.jobs.measure import Reading


@click.command()
@stills_option()
@click.option("--encoding", help="Signal encoding of the stills. Default: the source of --look.")
@click.option("--primaries", help="Primaries of the stills, where not those usual for the encoding.")
@click.option(
    "--range",
    "range_",
    type=click.Choice(["full", "legal"]),
    default="full",
    show_default=True,
    help="Range of the stills' code values.",
)
@click.option(
    "--look", type=click.Path(path_type=Path), metavar="LOOK_OR_LUT", help="Read levels on the picture this makes."
)
@signal_options
@click.option(
    "--marks",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Marks of the stills. Default: marks.toml in the stills' folder, where there is one.",
)
@click.option(
    "--mark",
    "mark_texts",
    multiple=True,
    metavar="NAME=X,Y,W,H",
    help="A box on every still, as fractions of the frame. May be given more than once.",
)
@click.option(
    "--ratio",
    "ratios",
    multiple=True,
    metavar="A/B",
    help="Compare two marks. Default: every key mark with every fill mark.",
)
@click.option(
    "--reference",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A frame to compare with, mark by mark: what to change on set, in stops.",
)
@click.option("--reference-encoding", default="BT.1886", show_default=True, help="Signal encoding of the reference.")
@out_option("Folder for one sheet per still: picture, exposure map, waveforms, vectorscope.", required=False)
@json_option
@quiet_option
def command(
    stills: tuple[Path, ...],
    encoding: str | None,
    primaries: str | None,
    range_: Literal["full", "legal"],
    look: Path | None,
    source: SignalName | None,
    output: SignalName | None,
    correction: str | None,
    marks: Path | None,
    mark_texts: tuple[str, ...],
    ratios: tuple[str, ...],
    reference: Path | None,
    reference_encoding: str,
    out: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Read levels, light and ratios from stills, at marks and over the whole frame.

    Levels are percent of signal; light is what the signal decodes to. A quotient of levels is not a ratio of light:
    both are given where two marks are compared. Advice for the set comes with a caution: follow local codes.
    """
    from lookwright.jobs.measure import measure

    with TerminalProgress(quiet or as_json) as progress:
        readings = measure(
            stills,
            signal=None if encoding is None else SignalName(encoding, primaries, range_),
            look=look,
            source=source,
            output=output,
            correction=correction,
            marks=marks,
            own_marks=mark_texts,
            ratios=ratios,
            reference=reference,
            reference_encoding=reference_encoding,
            out=out,
            progress=progress,
        )
    if as_json:
        tell_json([r.to_dict() for r in readings])
    elif not quiet:
        for reading in readings:
            for line in _lines(reading):
                show(line)


def _lines(r: Reading) -> list[str]:
    """One still, for a person."""
    lines = [f"{r.still.name}: {r.signal.describe()}"]
    if r.look is not None:
        lines[0] += f"; levels after {r.look or 'the look'} ({r.shown.encoding.name})"
    lines += [f"  doubt: {d.sentence}" for d in r.doubts]
    lines += [f"  doubt: {sentence}" for sentence in r.skin_doubts]
    if r.found:
        lines.append("  no marks are drawn: those below were found on faces")
    lines += _mark_lines([r.frame_shown, *r.viewed.values()], [r.frame, *r.recorded.values()])
    for c in r.ratios:
        agreed = f"{c.first!r} over {c.second!r}: {c.light_stops:.1f} stops."
        lines.append("  " + (c.sentence_when_different() or agreed))
    lines.append("  " + r.poles.in_words())
    lines += ["  " + s.sentence for s in r.skin]
    if r.comparison is not None:
        sentences = [r.comparison.summary, *(c.sentence for c in r.comparison.changes), r.comparison.caution]
        lines += ["  " + sentence for sentence in sentences]
    if r.sheet is not None:
        changed = "" if r.sheet.name.startswith(r.still.stem) else ": not every system can hold the name of the still"
        lines.append(f"  sheet in {r.sheet}{changed}")
    return lines


def _mark_lines(shown: Sequence[SignalLevel], recorded: list[Level]) -> list[str]:
    """A table: level as seen, light as recorded."""
    wide = max(len(s.name) for s in shown)
    head = f"  {'':<{wide}}  level %   5..95 %       light    stops from grey"
    lines = [head]
    for s, r in zip(shown, recorded, strict=True):
        about = "~" if r.scene.estimated else " "
        lines.append(
            f"  {s.name:<{wide}}  {s.luma.median:6.1f}   {s.luma.p5:5.1f}..{s.luma.p95:<5.1f}  "
            f"{about}{r.scene.reflectance.median:8.4f}   {r.scene.stops:+5.1f}"
        )
    return lines
