"""A look, or a step, explained."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lookwright.colour.spaces.names import find
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.schema import look_schema
from lookwright.look.steps import registry
from lookwright.look.steps.params import Declared, info_of

from .given import SignalName
from .job import job
from .looks import load_look


@dataclass(frozen=True)
class StepWords:
    """One step of a look."""

    kind: str
    on: bool
    words: str
    note: str


@dataclass(frozen=True)
class Explained:
    """A look in words."""

    title: str
    about: str
    strength: float
    source: str
    output: str
    steps: tuple[StepWords, ...]
    plan: tuple[str, ...]
    """The compiled path, a line for each part, conversions included."""
    curves: Path | None
    """Where its curves were drawn."""


@dataclass(frozen=True)
class Row:
    """One parameter of a step, from its own declaration."""

    name: str
    help: str
    default: Any
    bounds: str
    source: str


@dataclass(frozen=True)
class StepTable:
    """A step and its parameters."""

    kind: str
    summary: str
    rows: tuple[Row, ...]


def schema() -> dict[str, Any]:
    """The JSON schema of look files."""
    return look_schema()


@job(curves="drawing")
def explain_look(
    look: Path, curves: Path | None = None, strength: float | None = None, source: SignalName | None = None
) -> Explained:
    """A look in words, fed ``source`` where one is given; with ``curves`` (.png, .svg) its curves are drawn there."""
    model, _ = load_look(look, strength, source)
    pipeline = compile_look(model)
    effective = iter(model.effective_steps())
    steps = tuple(
        StepWords(s.kind, s.on, next(effective).in_words() if s.on else "is switched off", s.note) for s in model.steps
    )
    if curves is not None:
        # Here and not above: words alone come in a quarter less time.
        from lookwright.present.sheets.look_curves import write_look_curves

        write_look_curves(curves, model)
    return Explained(
        model.title,
        model.about,
        model.strength,
        pipeline.source.describe(),
        pipeline.output.describe(),
        steps,
        tuple(pipeline.plan()),
        curves,
    )


def explain_steps(name: str) -> list[StepTable]:
    """A step by its name, or ``all``; raises :class:`NameLookupError` for an unknown one."""
    known = registry()
    kinds = list(known) if name.casefold() == "all" else [find(name, known, "step")]
    return [StepTable(kind, known[kind].summary, tuple(_rows(known[kind]))) for kind in kinds]


def _rows(model: Any, prefix: str = "") -> list[Row]:
    """Every parameter of a step, nested groups included."""
    rows: list[Row] = []
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
            Row(
                prefix + name,
                field.description or "",
                list(default) if isinstance(default, tuple) else default,
                declared.bounds() + neutral if declared else "",
                declared.source if declared else "",
            )
        )
    return rows
