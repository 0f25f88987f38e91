"""Options of ``lookwright series``: which shots, and what they are handed on as."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from .options import stills_option

F = TypeVar("F", bound=Callable[..., Any])


def _with(options: Sequence[Callable[[F], F]], command: F) -> F:
    for option in reversed(options):
        command = option(command)
    return command


def shot_options(command: F) -> F:
    """``--shots``, or ``--timeline`` with ``--media`` and ``--rate``."""
    return _with(_SHOTS, command)


def handing_options(command: F) -> F:
    """What is made besides CDLs and the report."""
    return _with(_HANDING, command)


def memory_options(command: F) -> F:
    """What is kept from episode to episode."""
    return _with(_MEMORY, command)


_MEMORY = (
    click.option(
        "--memory",
        type=click.Path(path_type=Path, dir_okay=False),
        metavar="FILE",
        help="A file, such as series.toml, that keeps looks, anchor, tolerances and each shot's match from episode to "
        "episode; made where there is none.",
    ),
    click.option(
        "--episode",
        default="1",
        show_default=True,
        metavar="NAME",
        help="The episode these shots are of, in --memory; one of that name is replaced.",
    ),
)

_SHOTS = (
    stills_option(required=False),
    click.option(
        "--shots",
        multiple=True,
        type=click.Path(path_type=Path),
        metavar="PATH",
        help="A clip, a still, or a folder of them, in the look's source encoding. May be given more than once.",
    ),
    click.option(
        "--timeline",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="In place of --shots: an edit decision list (CMX 3600, .edl) or an OpenTimelineIO file (.otio); extra "
        "'timeline'.",
    ),
    click.option(
        "--media",
        multiple=True,
        type=click.Path(path_type=Path),
        metavar="FOLDER",
        help="Where the timeline's clips lie, folders in it too. Default: the timeline's own folder. May be given more "
        "than once.",
    ),
    click.option(
        "--rate",
        type=click.FloatRange(1.0, 120.0),
        metavar="FRAMES",
        help="Frames a second of an EDL's timecode. Default: those of the first clip in it.",
    ),
    click.option(
        "--whole",
        is_flag=True,
        help="Leave every clip whole where its light changes: the change is told, and one correction serves all of it.",
    ),
)

_HANDING = (
    click.option("--cubes", is_flag=True, help="Write one .cube a shot too: its CDL and the look in one."),
    click.option(
        "--config",
        is_flag=True,
        help="Write an OpenColorIO configuration too, in which the context variable SHOT picks the shot.",
    ),
    click.option(
        "--clips",
        type=click.Choice(["graded", "pair"]),
        help="Grade every clip into an H.264 preview with its sound, through its .cube (written too). pair: the plain "
        "rendering, as shot, beside it.",
    ),
    click.option(
        "--steady",
        is_flag=True,
        help="Take a slow drift of light out of clips that have one, by keyframes that the report tells, in what "
        "--clips grades. A sudden change of light stays.",
    ),
    click.option(
        "--scheduler",
        metavar="ADDRESS",
        help="Grade clips on the workers of a Dask scheduler that see the same files (extra 'cluster').",
    ),
)
