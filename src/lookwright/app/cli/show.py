"""``lookwright show``."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import carried, json_option, say_doubts, stills_option, strength_option, tell_json, there
from .signals import source_options
from .terminal import TerminalProgress, show

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName
    from lookwright.jobs.show import Explained, StepTable


@click.command()
@click.argument("look", required=False, type=click.Path(path_type=Path), callback=there)
@click.option("--plan", is_flag=True, help="Also list the compiled path, with the conversions put in.")
@click.option(
    "--curves",
    type=click.Path(path_type=Path),
    callback=carried,
    metavar="FILE",
    help="Draw the curves of the look (.png, .svg).",
)
@stills_option(required=False)
@click.option(
    "--html",
    type=click.Path(path_type=Path),
    callback=carried,
    metavar="FILE",
    help="Tell the look in pictures of --stills, in one self-contained file: before and after each step, where it "
    "acts, its curves.",
)
@click.option("--step", metavar="NAME", help="Explain one step and its parameters, or 'all'.")
@click.option("--schema", is_flag=True, help="Print the JSON schema of look files, for editors.")
@strength_option
@source_options
@json_option
def command(
    look: Path | None,
    plan: bool,
    curves: Path | None,
    stills: tuple[Path, ...],
    html: Path | None,
    step: str | None,
    schema: bool,
    strength: float | None,
    source: SignalName | None,
    as_json: bool,
) -> None:
    """Explain LOOK in words, with --html in pictures too; or a step with --step; or print the schema with --schema."""
    from lookwright.jobs import show as job

    if schema:
        tell_json(job.schema())
    elif step is not None:
        _tell_steps(job.explain_steps(step), as_json)
    elif look is None:
        raise click.UsageError("name a look file, or give --step or --schema")
    elif (html is None) != (not stills):
        raise click.UsageError("--html and --stills belong together: the page shows what each step does to a still")
    elif html is not None and curves is not None and html.resolve() == curves.resolve():
        raise click.UsageError("--html and --curves name the same file")
    else:
        found = job.explain_look(look, curves, strength, source)
        page = {} if html is None else _told_in_pictures(look, stills, html, strength, source, as_json)
        if as_json:
            tell_json(_data(found) | page)
            return
        _tell_look(found, look.stem, plan)
        if html is not None:
            show(f"  told in pictures in {html}")


def _told_in_pictures(
    look: Path,
    stills: tuple[Path, ...],
    html: Path,
    strength: float | None,
    source: SignalName | None,
    as_json: bool,
) -> dict[str, Any]:
    """Write the page; what each step changed on each still, for a program."""
    from lookwright.jobs.tell import tell_look

    with TerminalProgress(as_json) as progress:
        told = tell_look(look, stills, html, strength, source, progress)
    say_doubts(told.doubts, quiet=False)
    return {"html": str(html), **asdict(told)}


def _data(found: Explained) -> dict[str, Any]:
    data = asdict(found)
    del data["curves"]
    return data | ({} if found.curves is None else {"curves": str(found.curves)})


def _tell_look(found: Explained, name: str, plan: bool) -> None:
    show(found.title or name)
    for line in found.about.splitlines():
        show(f"  {line}")
    if found.strength != 1:
        show(f"  at {found.strength * 100:g} % of its strength")
    show(f"  fed with   {found.source}")
    for i, s in enumerate(found.steps, start=1):
        show(f"  {i:2d}. {s.kind:<11}{s.words}" + (f" ({' '.join(s.note.split())})" if s.note else ""))
    show(f"  gives      {found.output}")
    if plan:
        show("  compiled path:")
        for line in found.plan:
            show(f"     {line}")
    if found.curves is not None:
        show(f"  curves in {found.curves}")


def _tell_steps(tables: list[StepTable], as_json: bool) -> None:
    if as_json:
        tell_json({t.kind: {"summary": t.summary, "parameters": [asdict(r) for r in t.rows]} for t in tables})
        return
    for table in tables:
        show(f"{table.kind}: {table.summary}")
        for row in table.rows:
            show(f"  {row.name:<22} {row.help}")
            show(f"  {'':<22} default {row.default}" + (f", {row.bounds}" if row.bounds else ""))
        show("")
