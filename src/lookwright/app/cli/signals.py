"""``--source``, ``--output`` and ``--correction``: what nothing in a LUT file says, or which of several it holds."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import click

from lookwright.jobs.given import SignalName


def _name(option: str, encoding: str | None, primaries: str | None, range_: str) -> SignalName | None:
    if encoding is None:
        if primaries is not None or range_ != "full":
            raise click.UsageError(f"{option}-primaries and {option}-range need {option}")
        return None
    return SignalName(encoding, primaries, "legal" if range_ == "legal" else "full")


def signal_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options; the command gets ``source`` and ``output``, names or None, and ``correction``, text or None."""

    @functools.wraps(command)
    def collected(*args: Any, **given: Any) -> Any:
        names = {
            side: _name(f"--{side}", given.pop(side), given.pop(f"{side}_primaries"), given.pop(f"{side}_range"))
            for side in ("source", "output")
        }
        return command(*args, **names, **given)

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
    return click.option(
        "--correction", metavar="ID", help="Which correction of an ASC CDL collection (.ccc, .cdl): its id, or #2."
    )(collected)
