"""``lookwright check``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import json_option, load_look, progress, quiet_option, stills_option, strength_option, tell, tell_json
from .signals import Said, is_lut, signal_options

if TYPE_CHECKING:
    from lookwright.assess.restraint.subject import Subject
    from lookwright.pictures.stills import Mark, Still


@click.command()
@click.argument("look", type=click.Path(path_type=Path), metavar="LOOK_OR_LUT")
@stills_option(required=False)
@click.option(
    "--marks",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Marks of the stills: those on skin are judged. Default: marks.toml in the stills' folder, where "
    "there is one.",
)
@signal_options
@click.option(
    "--html",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Also write a report in one self-contained file, with before and after of each still.",
)
@strength_option
@json_option
@quiet_option
def command(
    look: Path,
    stills: tuple[Path, ...],
    marks: Path | None,
    said: Said,
    html: Path | None,
    strength: float | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Measure what LOOK_OR_LUT does to skin, greys, tone, noise and gradients; exit 1 when a limit is passed.

    A look, a .cube written by lookwright (which says what it is fed), or any other LUT with --source and --output. All
    is held against the plain rendering. A look may set its own limit for a measure with its reason: [limits.NAME].
    """
    from lookwright.assess.restraint.check import check
    from lookwright.assess.restraint.words import report_lines
    from lookwright.pictures.stills import find_stills

    paths = find_stills(stills) if stills else []
    if marks is not None and not paths:
        raise click.UsageError("--marks belongs to --stills")
    subject = _subject(look, said, strength)
    pictures = None
    if html is not None:
        from lookwright.files import check_target
        from lookwright.present.sheets.report_html import Pictures

        check_target(html)
        pictures = Pictures(subject)
    with progress("checking", len(paths), quiet or as_json) as advance:

        def seen(still: Still) -> None:
            if pictures is not None:
                pictures.add(still)
            advance(1)

        report = check(subject, _stills(paths, marks), seen)
    if html is not None and pictures is not None:
        from lookwright.present.sheets.report_html import write_report

        write_report(html, report, pictures)
    if as_json:
        tell_json(report.to_dict())
    else:
        for line in report_lines(report):
            tell(quiet, as_json, line)
        if html is not None:
            tell(quiet, as_json, f"report in {html}")
    if report.worst == "fail":
        raise SystemExit(1)


def _subject(path: Path, said: Said, strength: float | None) -> Subject:
    from lookwright.assess.restraint.limits import check_limits
    from lookwright.assess.restraint.subject import subject_of_look, subject_of_lut

    if is_lut(path):
        if strength is not None:
            raise click.UsageError("--strength is for looks; a LUT has the strength it was baked with")
        return subject_of_lut(path, *said.signals())
    said.none()
    look, _ = load_look(path, strength)
    check_limits(look.limits, str(path))
    return replace(subject_of_look(look), name=path.name)


def _stills(paths: Sequence[Path], marks: Path | None) -> Iterator[tuple[Still, list[Mark]]]:
    """Each still with its marks, read when its turn comes."""
    from concurrent.futures import ThreadPoolExecutor

    from lookwright.pictures.stills import read

    tables: dict[Path, dict[str, list[Mark]]] = {}
    # One still is decoded while the one before it is measured; never more than two are held.
    with ThreadPoolExecutor(1) as pool:
        coming = [pool.submit(read, path) for path in paths[:1]]
        for i, path in enumerate(paths):
            still = coming.pop().result()
            coming = [pool.submit(read, following) for following in paths[i + 1 : i + 2]]
            yield still, _marks_of(path, marks, tables)


def _marks_of(path: Path, marks: Path | None, tables: dict[Path, dict[str, list[Mark]]]) -> list[Mark]:
    from lookwright.pictures.stills import marks_for, read_marks

    file = marks if marks is not None else path.parent / "marks.toml"
    if file not in tables:
        tables[file] = read_marks(file) if marks is not None or file.is_file() else {}
    return marks_for(tables[file], path)
