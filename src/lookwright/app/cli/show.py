"""``lookwright show``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from .options import json_option, load_look, strength_option, tell_json


@click.command()
@click.argument("look", required=False, type=click.Path(path_type=Path))
@click.option("--plan", is_flag=True, help="Also list the compiled path, with the conversions put in.")
@click.option(
    "--curves", type=click.Path(path_type=Path), metavar="FILE", help="Draw the curves of the look (.png, .svg)."
)
@click.option("--step", metavar="NAME", help="Explain one step and its parameters, or 'all'.")
@click.option("--schema", is_flag=True, help="Print the JSON schema of look files, for editors.")
@strength_option
@json_option
def command(
    look: Path | None,
    plan: bool,
    curves: Path | None,
    step: str | None,
    schema: bool,
    strength: float | None,
    as_json: bool,
) -> None:
    """Explain LOOK in words; or a step with --step; or print the schema with --schema."""
    if schema:
        from lookwright.look.recipe.schema import look_schema

        tell_json(look_schema())
        return
    if step is not None:
        _explain_steps(step, as_json)
        return
    if look is None:
        raise click.UsageError("name a look file, or give --step or --schema")
    _explain_look(look, plan, curves, strength, as_json)


def _explain_look(path: Path, plan: bool, curves: Path | None, strength: float | None, as_json: bool) -> None:
    from lookwright.look.recipe.pipeline import compile_look

    look, _ = load_look(path, strength)
    pipeline = compile_look(look)
    effective = iter(look.effective_steps())
    steps = [
        {"kind": s.kind, "on": s.on, "words": next(effective).in_words() if s.on else "is switched off", "note": s.note}
        for s in look.steps
    ]
    data: dict[str, Any] = {
        "title": look.title,
        "about": look.about,
        "strength": look.strength,
        "source": pipeline.source.describe(),
        "output": pipeline.output.describe(),
        "steps": steps,
    }
    if plan or as_json:
        data["plan"] = pipeline.plan()
    if curves is not None:
        from lookwright.present.sheets.look_curves import write_look_curves

        write_look_curves(curves, look)
        data["curves"] = str(curves)
    if as_json:
        tell_json(data)
        return
    click.echo(look.title or path.stem)
    if look.about:
        click.echo(f"  {look.about}")
    if look.strength != 1:
        click.echo(f"  at {look.strength * 100:g} % of its strength")
    click.echo(f"  fed with   {data['source']}")
    for i, s in enumerate(steps, start=1):
        click.echo(f"  {i:2d}. {s['kind']:<11}{s['words']}" + (f" ({s['note']})" if s["note"] else ""))
    click.echo(f"  gives      {data['output']}")
    if plan:
        click.echo("  compiled path:")
        for line in pipeline.plan():
            click.echo(f"     {line}")
    if curves is not None:
        click.echo(f"  curves in {curves}")


def _explain_steps(name: str, as_json: bool) -> None:
    from lookwright.colour.spaces.names import find
    from lookwright.look.steps import registry

    known = registry()
    kinds = list(known) if name.casefold() == "all" else [find(name, known, "step")]
    tables = {kind: _rows(known[kind]) for kind in kinds}
    if as_json:
        tell_json({k: {"summary": known[k].summary, "parameters": tables[k]} for k in kinds})
        return
    for kind in kinds:
        step = known[kind]
        click.echo(f"{kind}: {step.summary}")
        for row in tables[kind]:
            click.echo(f"  {row['name']:<22} {row['help']}")
            click.echo(f"  {'':<22} default {row['default']}" + (f", {row['bounds']}" if row["bounds"] else ""))
        click.echo()


def _rows(model: Any, prefix: str = "") -> list[dict[str, Any]]:
    """Every parameter of a step, nested groups included, from its own declaration."""
    from lookwright.look.steps.params import Declared, info_of

    rows: list[dict[str, Any]] = []
    for name, field in model.model_fields.items():
        if not prefix and name in ("kind", "note", "on", "lock"):
            continue
        declared = info_of(field)
        inner = [t for t in (field.annotation, *getattr(field.annotation, "__args__", ())) if isinstance(t, type)]
        group = next((t for t in inner if issubclass(t, Declared)), None)
        if group is not None:
            rows += _rows(group, f"{prefix}{name}.")
            continue
        neutral = "" if declared is None or declared.neutral is None else f", neutral {declared.neutral:g}"
        default = "none" if field.is_required() else field.get_default(call_default_factory=True)
        rows.append(
            {
                "name": prefix + name,
                "help": field.description or "",
                "default": list(default) if isinstance(default, tuple) else default,
                "bounds": declared.bounds() + neutral if declared else "",
                "source": declared.source if declared else "",
            }
        )
    return rows
