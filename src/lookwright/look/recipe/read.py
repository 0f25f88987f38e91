"""Reading a look: TOML text to a checked model, with all faults reported together."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from lookwright import safe_toml
from lookwright.errors import LookwrightError, NameLookupError, RecipeError, RecipeErrors, did_you_mean
from lookwright.look.steps import kinds, step_of_kind
from lookwright.look.steps.base import Step
from lookwright.look.steps.params import Declared, info_of
from lookwright.reading import NO_LOOK, read_bytes

from .formats import renamed_hint, stated_format, upgraded
from .lines import KeyPath, line_of
from .model import Look

_MOST_BYTES = 1_000_000
"""A recipe is a page of text; a larger file is something else named by mistake."""

_MOST_FAULTS = 20
"""Faults told of one look: each costs a search for its line, and nobody reads more."""

_LUT_NAMES = (".cube", ".clf", ".ccc", ".cdl", ".cc")

Moved = Mapping[KeyPath, KeyPath]
"""Keys by their present names, and where they stand in a text of an earlier format."""


def read_look(path: Path | str) -> Look:
    """Read a look file.

    Raises :class:`RecipeError` (or :class:`RecipeErrors` with every fault) naming file, line and key.
    """
    path = Path(path)
    text = read_text(path)
    return parse_look(text, str(path)).with_folder(path.parent)


def read_text(path: Path) -> str:
    """The text of a look file, or one clear line why it cannot be read."""
    data = read_bytes(
        path,
        _MOST_BYTES,
        "a look file",
        RecipeError,
        missing=NO_LOOK,
        folder="name a .toml file",
    )
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise RecipeError(str(path), "not a text file", "TOML text in UTF-8") from None


def parse_look(text: str, where: str = "look") -> Look:
    """Check TOML text and build the look; ``where`` names it in faults."""
    try:
        data = safe_toml.loads(text)
    except tomllib.TOMLDecodeError as exc:
        hint = ""
        if where.lower().endswith(_LUT_NAMES):
            hint = "this is a LUT: 'recover' takes the look out of one that lookwright wrote"
        elif "'\\\\'" in str(exc) or "hex value" in str(exc):
            hint = "in a path write / between folders; Windows takes it too"
        raise RecipeError(where, f"not valid TOML: {exc}", hint=hint) from None
    except ValueError:  # Python's own limit on the digits of an integer
        raise RecipeError(where, "an integer with thousands of digits") from None
    except RecursionError:
        raise RecipeError(where, "nested too deeply for a look file") from None

    moved: dict[KeyPath, KeyPath] = {}

    def place(path: KeyPath) -> str:
        line = line_of(text, moved.get(path, path))
        return f"{where}, line {line}" if line else where

    data, moved = upgraded(data, stated_format(data, place(("format",)) if "format" in data else where))
    faults: list[LookwrightError] = []
    if "steps" in data:  # the model's own name for the list, which the text must not use
        faults.append(RecipeError(f"{place(('steps',))}, steps", "unknown key 'steps'", hint="did you mean 'step'?"))
        del data["steps"]
    steps = _steps(data.pop("step", []), place, moved, faults)
    top: Look | None = None
    try:
        top = Look(**data) if not faults or data else None
    except ValidationError as exc:
        faults += _faults(exc, Look, (), "", place, moved)
    except TypeError:
        faults.append(RecipeError(where, "keys must be text"))
    if len(faults) > _MOST_FAULTS:
        faults[_MOST_FAULTS:] = [RecipeError(where, "and more faults, which are not listed")]
    if faults:
        raise RecipeErrors(faults)
    assert top is not None
    for name in ("source", "output"):
        try:
            getattr(top, name).signal()
        except NameLookupError as exc:
            faults.append(RecipeError(f"{place((name,))}, {name}", exc.got, exc.expected, exc.hint))
    if faults:
        raise RecipeErrors(faults)
    return top.model_copy(update={"steps": tuple(steps)})


def _steps(raw: Any, place: Any, moved: Moved, faults: list[LookwrightError]) -> list[Step]:
    steps: list[Step] = []
    if not isinstance(raw, list) or not all(isinstance(r, dict) for r in raw):
        faults.append(RecipeError(f"{place(('step',))}, step", "not a list of steps", "tables headed [[step]]"))
        return steps
    for i, table in enumerate(raw):
        if len(faults) > _MOST_FAULTS:
            break
        kind = table.get("kind")
        name = f"step {i + 1}"
        if kind is None:
            faults.append(
                RecipeError(f"{place(('step', i))}, {name}", "has no 'kind'", hint="known: " + ", ".join(kinds()))
            )
            continue
        step = step_of_kind(kind) if isinstance(kind, str) else None
        if step is None:
            hint = did_you_mean(kind if isinstance(kind, str) else "", kinds())
            faults.append(
                RecipeError(f"{place(('step', i, 'kind'))}, {name}", f"unknown step {_shown(kind)}", hint=hint)
            )
            continue
        try:
            steps.append(step(**table))
        except ValidationError as exc:
            faults += _faults(exc, step, ("step", i), f"{name} {kind!r}", place, moved)
    return steps


def _model_at(model: type[BaseModel], loc: tuple[str | int, ...]) -> type[BaseModel]:
    """The nested model that holds the last part of ``loc``."""
    for part in loc[:-1]:
        if isinstance(part, int):
            continue
        field = model.model_fields.get(part)
        if field is None:
            break
        inner = [field.annotation, *getattr(field.annotation, "__args__", ())]
        model = next((t for t in inner if isinstance(t, type) and issubclass(t, BaseModel)), model)
    return model


def _faults(
    exc: ValidationError, model: type[BaseModel], prefix: KeyPath, name: str, place: Any, moved: Moved
) -> list[LookwrightError]:
    faults: list[LookwrightError] = []
    seen: set[tuple[Any, ...]] = set()
    for error in exc.errors(include_url=False)[: _MOST_FAULTS + 1]:
        # pydantic adds its own branch names for unions; keep the parts that stand in the text.
        added = ("tuple[", "bool", "constrained")
        loc = tuple(p for p in error["loc"] if isinstance(p, int) or not p.startswith(added))
        if error["type"] == "missing" and loc and isinstance(loc[-1], int):
            loc = loc[:-1]  # a triple with a number missing: name the triple
        if loc in seen:
            continue
        seen.add(loc)
        owner = _model_at(model, loc)
        stands = moved.get(prefix + loc, prefix + loc)[len(prefix) :]  # as the text calls it
        key = ".".join(str(p + 1) if isinstance(p, int) else p for p in stands)
        where = f"{place(prefix + loc)}, " + ", ".join(n for n in (name, key) if n)
        faults.append(_one(error, owner, where))
    return faults


def _one(error: Any, owner: type[BaseModel], where: str) -> LookwrightError:
    kind, value = error["type"], error.get("input")
    shown = _shown(value)
    last = next((p for p in reversed(error["loc"]) if isinstance(p, str)), "")
    if kind == "extra_forbidden":
        names = [f.alias or n for n, f in owner.model_fields.items()]
        what = "parameter" if issubclass(owner, Declared) else "key"
        hint = renamed_hint(str(last), names) or did_you_mean(str(last), names)
        return RecipeError(where, f"unknown {what} {last!r}", hint=hint)
    if kind == "missing" and not isinstance(error["loc"][-1], int):
        return RecipeError(where, "is missing", hint=_help(owner, str(last)))
    if kind == "bounds":
        return RecipeError(where, f"{shown} is out of bounds" if _numeric(value) else shown, error["msg"])
    if kind == "name":
        got, hint = error["ctx"]["got"], error["ctx"]["hint"]
        return RecipeError(where, got, hint=hint)
    if kind == "lock":
        return RecipeError(where, shown, error["msg"])
    field = owner.model_fields.get(str(last))
    declared = info_of(field) if field is not None else None
    expected = declared.bounds() if declared is not None else _expected(error)
    if declared is not None and field is not None and isinstance(field.default, tuple):
        expected = f"three numbers, each {expected}"
    return RecipeError(where, shown, expected)


def _shown(value: Any) -> str:
    """A value of the text as a message shows it: short, and never a walk down endless nesting."""
    if isinstance(value, dict):
        return "a table"
    try:
        shown = repr(value)
    except (RecursionError, ValueError):  # nested too deeply, or more digits than Python prints
        return f"a {type(value).__name__}"
    return shown if len(shown) <= 60 else shown[:57] + "..."


def _expected(error: Any) -> str:
    """The checker's sentence ("Input should be less than 1") as the object of our "expected"."""
    if error["type"] in ("model_type", "dict_type"):
        return "a table"
    if error["type"] == "too_long":
        return f"at most {error['ctx']['max_length']}"
    text = str(error["msg"]).removeprefix("Input should be ").split(", unable to")[0]
    return text[:1].lower() + text[1:]


def _numeric(value: Any) -> bool:
    items = value if isinstance(value, (list, tuple)) else [value]
    return all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in items)


def _help(owner: type[BaseModel], name: str) -> str:
    field = owner.model_fields.get(name)
    return f"it says {field.description}" if field is not None and field.description else ""
