"""``lookwright measure``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import json_option, load_look, out_option, progress, quiet_option, stills_option, tell_json

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from lookwright.assess.measure.levels import Level
    from lookwright.colour.spaces.signal import Signal
    from lookwright.look.baking.viewing import View
    from lookwright.pictures.stills import Mark, Still


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
@click.option("--look", type=click.Path(path_type=Path), help="Read levels on the picture this look makes.")
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
    range_: str,
    look: Path | None,
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
    from lookwright.colour.spaces.signal import Signal
    from lookwright.files import make_folder
    from lookwright.look.baking.viewing import View
    from lookwright.pictures.stills import find_stills, parse_mark, read, read_marks

    view: View | None = None
    if look is not None:
        view = View(load_look(look)[0])
        signal = view.pipeline.source
        if encoding is not None:
            raise click.UsageError("give --encoding or --look, not both: a look says what it is fed")
    elif encoding is None:
        raise click.UsageError("say what the stills are: --encoding NAME, or --look LOOK")
    else:
        signal = Signal.named(encoding, primaries, "legal" if range_ == "legal" else "full")
    paths = find_stills(stills)
    own = [parse_mark(t) for t in mark_texts]
    other = read(reference) if reference is not None else None
    target = Signal.named(reference_encoding)
    if out is not None:
        make_folder(out)
    results = []
    with progress("measuring", len(paths), quiet or as_json) as advance:
        for path in paths:
            file = marks if marks is not None else path.parent / "marks.toml"
            table = read_marks(file) if marks is not None or file.is_file() else {}
            results.append(_one(read(path), signal, view, table, own, ratios, other, target, out))
            advance(1)
    if as_json:
        tell_json([r for r, _ in results])
    elif not quiet:
        for _, lines in results:
            click.echo("\n".join(lines))


def _one(
    still: Still,
    signal: Signal,
    view: View | None,
    table: dict[str, list[Mark]],
    own: list[Mark],
    ratio_texts: tuple[str, ...],
    other: Still | None,
    target: Signal,
    out: Path | None,
) -> tuple[dict[str, Any], list[str]]:
    """Measure one still: data for a program, lines for a person."""
    from lookwright.assess.measure.levels import level, levels
    from lookwright.assess.measure.plausible import findings
    from lookwright.assess.measure.poles import poles
    from lookwright.assess.measure.skin import read_skin
    from lookwright.pictures.stills import marks_for, region

    marks = [*marks_for(table, still.path), *own]
    seen = view.graded(still.pixels) if view is not None else still.pixels
    shown = view.output if view is not None else signal
    frame = level(still.pixels, signal, "whole frame")
    recorded = levels(still.pixels, signal, marks)
    viewed = levels(seen, shown, marks) if view is not None else recorded
    lines = [f"{still.path.name}: {signal.describe()}"]
    if view is not None:
        lines[0] += f"; levels after {view.look.title or 'the look'} ({shown.encoding.name})"
    data: dict[str, Any] = {"still": str(still.path), "encoding": signal.describe(), "frame": frame.to_dict()}
    doubts = findings(still.pixels, signal)
    data["doubts"] = [d.to_dict() for d in doubts]
    lines += [f"  doubt: {d.sentence}" for d in doubts]
    lines += _mark_lines([level(seen, shown, "whole frame"), *viewed.values()], [frame, *recorded.values()])
    data["marks"] = {n: {"recorded": recorded[n].to_dict(), "shown": viewed[n].to_dict()} for n in recorded}
    compared = [_ratio(a, b, recorded, viewed, view is not None) for a, b in _pairs(marks, ratio_texts)]
    data["ratios"] = [r.to_dict() for r in compared]
    for r in compared:
        agreed = f"{r.first!r} over {r.second!r}: {r.light_stops:.1f} stops."
        lines.append("  " + (r.sentence_when_different() or agreed))
    light = _display_light(still.pixels, signal, seen, shown)
    colour = poles(light)
    data["poles"] = colour.to_dict()
    lines.append("  " + colour.in_words())
    skins = [read_skin(region(seen, m), shown, m.name) for m in marks if m.role == "skin"]
    data["skin"] = [s.to_dict() for s in skins]
    lines += ["  " + s.sentence for s in skins]
    if other is not None:
        from lookwright.assess.measure.compare import compare

        theirs = levels(other.pixels, target, marks_for(table, other.path) or own)
        comparison = compare(theirs, recorded)
        data["comparison"] = comparison.to_dict()
        sentences = [comparison.summary, *(c.sentence for c in comparison.changes), comparison.caution]
        lines += ["  " + sentence for sentence in sentences]
    if out is not None:
        sheet = out / f"{still.path.stem}-measure.png"
        _sheet(sheet, still, signal, view, seen, shown, marks, [r.sentence_when_different() for r in compared])
        data["sheet"] = str(sheet)
        lines.append(f"  sheet in {sheet}")
    return data, lines


def _mark_lines(shown: list[Level], recorded: list[Level]) -> list[str]:
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


def _pairs(marks: list[Mark], texts: tuple[str, ...]) -> list[tuple[str, str]]:
    from lookwright.errors import MarksError, did_you_mean

    names = [m.name for m in marks]
    if not texts:
        keys, fills = ([m.name for m in marks if m.role == role] for role in ("key", "fill"))
        return [(a, b) for a in keys for b in fills]
    pairs = []
    for text in texts:
        a, slash, b = (part.strip() for part in text.partition("/"))
        if not slash:
            raise MarksError("--ratio", repr(text), "two marks as A/B, such as 'face key/face fill'")
        for name in (a, b):
            if name not in names:
                raise MarksError("--ratio", f"no mark {name!r} on this still", hint=did_you_mean(name, names))
        pairs.append((a, b))
    return pairs


def _ratio(a: str, b: str, recorded: dict[str, Level], viewed: dict[str, Level], graded: bool) -> Any:
    from lookwright.assess.measure.ratios import ratio

    if graded:
        return ratio(recorded[a], recorded[b], viewed[a], viewed[b])
    return ratio(recorded[a], recorded[b])


def _display_light(
    pixels: NDArray[np.float32], signal: Signal, seen: NDArray[np.float32], shown: Signal
) -> NDArray[np.float64]:
    """Display light for the poles: of the shown picture, or of the plain rendering of a scene signal."""
    if shown.kind == "display":
        return shown.to_light(seen)
    from lookwright.assess.measure.levels import display_light

    return display_light(pixels, signal)


def _sheet(
    path: Path,
    still: Still,
    signal: Signal,
    view: View | None,
    seen: NDArray[np.float32],
    shown: Signal,
    marks: list[Mark],
    notes: list[str],
) -> None:
    from lookwright.colour.spaces.signal import Signal as Named
    from lookwright.present.sheets.measure_sheet import write_measure_sheet

    if view is not None:
        picture, caption = seen, view.look.title or "Graded"
    else:
        target = Named.named("BT.1886")
        light = _display_light(still.pixels, signal, seen, shown)
        picture, caption = target.from_light(light).astype("float32"), "Plain rendering"
    write_measure_sheet(
        path,
        still.pixels,
        signal,
        picture=picture,
        title=still.path.name,
        picture_caption=caption,
        marks=marks,
        notes=[n for n in notes if n][:3],
        scopes_pixels=seen if view is not None else None,
        scopes_signal=shown if view is not None else None,
    )
