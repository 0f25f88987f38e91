"""Options that every command on clips has."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])

matrix_option = click.option(
    "--matrix",
    type=click.Choice(["BT.709", "BT.2020", "BT.601"], case_sensitive=False),
    help="Y'CbCr matrix of the clip, in place of its tag. A clip without the tag is refused until this is given.",
)
range_option = click.option(
    "--range",
    "range_",
    type=click.Choice(["legal", "full"]),
    help="Range of the clip's codes, in place of its tag. Without a tag: legal, and it is said.",
)
levels_option = click.option(
    "--levels",
    type=click.Choice(["expand", "keep"]),
    default="expand",
    show_default=True,
    help="Legal range: expand puts code 64 of 1023 at 0; keep leaves codes as they are, for a log whose own codes "
    "were recorded unscaled.",
)


class Seconds(click.ParamType):  # type: ignore[type-arg]  # generic since click 8.4, not in 8.2
    """Seconds, or minutes and hours before them: ``2.5``, ``1:02.5``, ``1:00:02``."""

    name = "TIME"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float | int):
            return float(value)
        parts = str(value).split(":")
        try:
            numbers = [float(p) for p in parts]
        except ValueError:
            numbers = []
        whole = all(n == int(n) for n in numbers[:-1]) if all(map(math.isfinite, numbers)) else False
        if not 1 <= len(numbers) <= 3 or not whole or min(numbers) < 0 or (len(parts) > 1 and max(numbers[1:]) >= 60):
            self.fail(f"{value!r} is not a time; expected seconds, M:SS or H:MM:SS, such as 2.5 or 1:02.5", param, ctx)
        total = 0.0
        for n in numbers:
            total = total * 60.0 + n
        return total
