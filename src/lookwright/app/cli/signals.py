"""``--source`` and ``--output``: what a look is fed in place of its own source; what a LUT file is fed and gives, and
``--correction``: which of several it holds."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import click

from lookwright.jobs.given import SignalName

USUAL = "usual"
"""Stands for the usual primaries where several sources each need a word."""

Command = Callable[..., Any]


def _name(encoding: str, primaries: str | None, range_: str) -> SignalName:
    chosen = None if primaries is None or primaries.casefold() == USUAL else primaries
    return SignalName(encoding, chosen, "legal" if range_ == "legal" else "full")


def _needs(option: str, encoding: object, *details: object) -> None:
    """Raises where something is said of a signal that is not named."""
    if not encoding and any(details):
        raise click.UsageError(f"{option}-primaries and {option}-range need {option}")


def _one(option: str, encoding: str | None, primaries: str | None, range_: str | None) -> SignalName | None:
    _needs(option, encoding, primaries, range_)
    if encoding is None:
        return None
    return _name(encoding, primaries, range_ or "full")


def _several(
    option: str, encodings: tuple[str, ...], primaries: tuple[str, ...], ranges: tuple[str, ...]
) -> tuple[SignalName, ...]:
    _needs(option, encodings, primaries, ranges)
    for word, given, usual in (("primaries", primaries, f"'{USUAL}'"), ("range", ranges, "'full'")):
        if len(given) not in (0, len(encodings)):
            raise click.UsageError(
                f"{len(encodings)} {option} but {len(given)} {option}-{word}: one for each, in their order; "
                f"{usual} for those that need none"
            )
    count = len(encodings)
    return tuple(map(_name, encodings, primaries or (USUAL,) * count, ranges or ("full",) * count))


def _side(side: str, what: str, several: bool = False) -> Callable[[Command], Command]:
    """The three options of one signal; the command gets one argument named ``side`` (``sides`` where several)."""

    def declared(command: Command) -> Command:
        @functools.wraps(command)
        def collected(*args: Any, **given: Any) -> Any:
            told = [given.pop(name) for name in (side, f"{side}_primaries", f"{side}_range")]
            names = {f"{side}s": _several(f"--{side}", *told)} if several else {side: _one(f"--{side}", *told)}
            return command(*args, **names, **given)

        for suffix, help in (
            ("-range", "Its range. Default: full."),
            ("-primaries", "Its primaries, where not those usual for the encoding."),
            ("", what),
        ):
            kind: dict[str, Any] = (
                {"type": click.Choice(["full", "legal"])} if suffix == "-range" else {"metavar": "NAME"}
            )
            collected = click.option(f"--{side}{suffix}", help=help, multiple=several, **kind)(collected)
        return collected

    return declared


_CAMERA = "What the camera gave, in place of the look's own source: its signal encoding. Stills are in it."

source_options = _side("source", _CAMERA)
"""``--source`` for a command that takes a look; the command gets ``source``, a name or None."""

_lut_output = _side("output", "What a LUT file gives: its signal encoding.")
_lut_source = _side("source", f"{_CAMERA} Of a LUT file: what it must be fed.")
_lut_sources = _side(
    "source",
    f"{_CAMERA} Of a LUT file: what it must be fed. May be given more than once: a folder for each camera, the stills "
    "in the first.",
    several=True,
)

_correction = click.option(
    "--correction", metavar="ID", help="Which correction of an ASC CDL collection (.ccc, .cdl): its id, or #2."
)

_new_source = _side("source", "Encoding the LUT will be fed with. Default: ACEScct, or that of --from.")
_new_output = _side("output", "Encoding it will give. Default: BT.1886, or that of --from.")


def new_options(command: Command) -> Command:
    """For a new look; the command gets ``source`` and ``output``, each a name or None."""
    return _new_source(_new_output(command))


def plain_signal_options(command: Command) -> Command:
    """For a command that takes a LUT file whole; it gets ``source`` and ``output``, each a name or None."""
    return _lut_source(_lut_output(command))


def signal_options(command: Command) -> Command:
    """For a command that takes a look or a LUT file.

    It gets ``source`` and ``output``, each a name or None, and ``correction``, text or None.
    """
    return plain_signal_options(_correction(command))


def cameras_options(command: Command) -> Command:
    """As :func:`signal_options`, with any number of sources; the command gets ``sources`` and ``output``."""
    return _lut_sources(_lut_output(_correction(command)))
