"""``--source`` and ``--output``: what a LUT file is fed and gives, where nothing in it says so."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import load_look

if TYPE_CHECKING:
    from lookwright.colour.spaces.signal import Signal
    from lookwright.look.recipe.model import Look

LUT_ENDINGS = (".cube", ".clf", ".cc", ".ccc", ".cdl", ".png", ".tif", ".tiff")


@dataclass(frozen=True)
class Said:
    """The names given on the command line."""

    source: tuple[str | None, str | None, str]
    output: tuple[str | None, str | None, str]

    def signals(self) -> tuple[Signal | None, Signal | None]:
        """Source and output, None where not said."""
        return _signal("--source", *self.source), _signal("--output", *self.output)

    def none(self) -> None:
        """Refuse signals said of a look, which knows its own."""
        if any(signal is not None for signal in self.signals()):
            raise click.UsageError("--source and --output are for LUT files; a look says what it is fed and gives")


def _signal(option: str, name: str | None, primaries: str | None, range_: str) -> Signal | None:
    if name is None:
        if primaries is not None or range_ != "full":
            raise click.UsageError(f"{option}-primaries and {option}-range need {option}")
        return None
    from lookwright.colour.spaces.signal import Signal as Named

    return Named.named(name, primaries, "legal" if range_ == "legal" else "full")


def signal_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options; the command gets them as one argument ``said``."""

    @functools.wraps(command)
    def collected(*args: Any, **given: Any) -> Any:
        parts = {
            side: (given.pop(side), given.pop(f"{side}_primaries"), given.pop(f"{side}_range"))
            for side in ("source", "output")
        }
        return command(*args, said=Said(**parts), **given)

    for side, words in (("output", "gives"), ("source", "must be fed")):
        for suffix, help in (
            ("range", "Its range."),
            ("primaries", "Its primaries, where not those usual for the encoding."),
            ("", f"What a LUT file {words}: its signal encoding."),
        ):
            name = f"--{side}-{suffix}".rstrip("-")
            kind = {"type": click.Choice(["full", "legal"]), "default": "full", "show_default": True}
            extra: dict[str, Any] = kind if suffix == "range" else {"metavar": "NAME"}
            collected = click.option(name, help=help, **extra)(collected)
    return collected


def is_lut(path: Path) -> bool:
    """Whether the name's ending is that of a LUT file."""
    return path.suffix.lower() in LUT_ENDINGS


def load_look_or_lut(path: Path, said: Said, strength: float | None = None, table: bool = False) -> tuple[Look, str]:
    """A look with its exact text; for a LUT file the recipe in it, or a look that sends its source through it.

    With ``table`` a file of our own is taken by its table too.
    """
    if not is_lut(path):
        said.none()
        return load_look(path, strength)
    from lookwright.look.baking.foreign import look_of_lut, own_recipe
    from lookwright.look.recipe.write import look_text

    if table and strength is not None:
        raise click.UsageError("--strength is for looks; a LUT has the strength it was baked with")
    look = look_of_lut(path, *said.signals(), table=table)
    text = None if table else own_recipe(path)
    return (look if strength is None else look.with_strength(strength)), (look_text(look) if text is None else text)
