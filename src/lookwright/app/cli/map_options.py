"""Lists of numbers in options of the exposure map."""

from __future__ import annotations

import click


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
