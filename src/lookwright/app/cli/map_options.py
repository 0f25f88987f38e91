"""Options of the exposure map."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import click

Command = Callable[..., Any]


def map_options(steps: Literal["stops", "percent"]) -> Callable[[Command], Command]:
    """``--steps``, ``--bounds`` and ``--off``; ``steps`` is what they count where nothing is said."""

    def declared(command: Command) -> Command:
        command = click.option(
            "--off", metavar="N,N,...", help="Steps of the map switched off, counted from 1, the darkest."
        )(command)
        command = click.option(
            "--bounds",
            metavar="A,B,...",
            help="Borders of the map's steps, rising. Default: whole stops, or tens of percent.",
        )(command)
        return click.option(
            "--steps",
            type=click.Choice(["stops", "percent"]),
            default=steps,
            show_default=True,
            help="What the map's steps count: stops of scene light, or percent of the finished picture.",
        )(command)

    return declared


def bounds_of(text: str | None) -> tuple[float, ...]:
    """``-2,-1,0,1`` as numbers; empty for none."""
    try:
        return tuple(float(p) for p in text.split(",")) if text else ()
    except ValueError:
        raise click.BadParameter(f"{text!r} is no list of numbers such as -2,-1,0,1", param_hint="--bounds") from None


def numbers_of(text: str | None) -> tuple[int, ...]:
    """``1,2`` as whole numbers; empty for none."""
    try:
        return tuple(int(p) for p in text.split(",")) if text else ()
    except ValueError:
        raise click.BadParameter(f"{text!r} is no list of whole numbers such as 1,2", param_hint="--off") from None
