"""Options that mean the same in every command, and how results are told."""

from __future__ import annotations

import json
import math
import os
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import click

from lookwright import system
from lookwright.names import portable, why_not

from .terminal import escaped, printable

F = TypeVar("F", bound=Callable[..., Any])


class Share(click.FloatRange):
    """A number from 0 to 1. click's own range lets NaN through, because no comparison with it is true."""

    def __init__(self) -> None:
        super().__init__(0.0, 1.0)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        number: float = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"{value!r} is not a number from 0 to 1.", param, ctx)
        return number


def shares(ctx: click.Context, param: click.Parameter, value: str | None) -> tuple[float, ...]:
    """Numbers from 0 to 1 with commas between; none where nothing is given."""
    return () if value is None else tuple(Share().convert(part, param, ctx) for part in value.split(","))


def there(ctx: click.Context, param: click.Parameter, value: Path | None) -> Path | None:
    """Refuse a look file that is not there before anything heavy is loaded: the commonest slip answers at once."""
    if value is not None and value.suffix == ".toml" and not ctx.resilient_parsing and _missing(value):
        from lookwright.errors import RecipeError
        from lookwright.reading import NO_LOOK

        raise RecipeError(str(value), "no such file", hint=NO_LOOK)
    return value


def _missing(path: Path) -> bool:
    """Whether nothing is there; a name that no file can have is for the reader to tell."""
    try:
        os.lstat(path)
    except FileNotFoundError:
        return True
    except (OSError, ValueError):
        return False
    return False


def look_or_lut(metavar: str) -> Callable[[F], F]:
    """The argument that is a look, or a LUT file where that will do."""
    return click.argument("look", type=click.Path(path_type=Path), metavar=metavar, callback=there)


look_argument = look_or_lut("LOOK")


def stills_option(required: bool = True) -> Callable[[F], F]:
    """``--stills``: pictures or folders of pictures, in the look's source encoding; may be repeated."""
    return click.option(
        "--stills",
        multiple=True,
        required=required,
        type=click.Path(path_type=Path),
        metavar="PATH",
        help="A still, or a folder of stills, in the look's source encoding. May be given more than once.",
    )


NOTES = "lookwright.notes"
"""Under this name a context holds sentences that are told when a command has done its work."""


def out_option(help: str, required: bool = True) -> Callable[[F], F]:
    """``--out``: where the result goes."""
    return click.option(
        "--out", required=required, type=click.Path(path_type=Path), metavar="PATH", help=help, callback=carried
    )


def carried(ctx: click.Context, param: click.Parameter, value: Path | None) -> Path | None:
    """Note a name that is good here and nowhere else, to be told after the work. Not good here, the job refuses it."""
    if value is not None and not system.WINDOWS and not ctx.params.get("quiet") and (why := why_not(value.name)):
        better = f"{portable(value.name)!r} would do everywhere"
        ctx.meta.setdefault(NOTES, []).append(f"names: {value.name}: Windows cannot hold this, it {why}; {better}")
    return value


size_option = click.option(
    "--size", default=33, show_default=True, type=click.IntRange(2, 129), help="Points on each side of the lattice."
)
strength_option = click.option(
    "--strength",
    type=Share(),
    help="How much of the look, 1 as written, 0 the plain rendering. Default: as the look says.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print machine-readable results on stdout.")
quiet_option = click.option("--quiet", is_flag=True, is_eager=True, help="Print nothing but faults.")


def tell(quiet: bool, as_json: bool, text: str) -> None:
    """One line for a person, on stdout unless that belongs to JSON."""
    if not quiet and not as_json:
        click.echo(printable(text))


def tell_json(data: Any) -> None:
    """Results for a program: readable UTF-8, or ASCII with escapes where the output cannot take it."""
    text = escaped(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(data, indent=2, allow_nan=False)
    click.echo(text)


def say_doubts(doubts: Mapping[str, list[str]], quiet: bool) -> None:
    """One line for each sign that a still is not what the look is fed, on stderr."""
    for name, sentences in doubts.items():
        for sentence in sentences if not quiet else ():
            say(f"doubt: {name}: {sentence}")


def say(line: str) -> None:
    """One line about a fault, on stderr."""
    click.echo("lookwright: " + " ".join(printable(line).split()), err=True)
