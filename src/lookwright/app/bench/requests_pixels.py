"""What the page may ask about pixels, steps, dropped files and clips, spelled out."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from .requests import Asked, Share, Small, Value, View


class Way(Asked):
    """One point of a still."""

    still: Small
    x: Share
    y: Share


class Masked(Asked):
    """A mask of a region: ``of`` says which."""

    view: View
    of: Literal["warnings", "change", "held", "finding"]
    step: int = -1
    what: Annotated[str, Field(max_length=40)] = ""


class Thumb(Asked):
    """A small copy of a still."""

    still: Small


class Seek(Asked):
    """Frames of a clip from a time on."""

    clip: Small
    first: Annotated[float, Field(ge=0.0, le=1e6, allow_inf_nan=False)] = 0.0


class Frame(Asked):
    """One frame that was read."""

    number: Small


class Band(Asked):
    """The hue band of a point: where it is, or where one could be made."""

    still: Small
    x: Share
    y: Share


class Toward(Asked):
    """A wish about a box of a still that one number of a step, or two, can meet."""

    still: Small
    box: Annotated[list[Share], Field(min_length=4, max_length=4)]
    do: Literal["grey", "level"]
    level: Annotated[float, Field(ge=0.0, le=100.0, allow_inf_nan=False)] | None = None
    number: Value | None = None


class Make(Asked):
    """A new step where it belongs, with values; ``centre`` gives it a hue band."""

    kind: Literal["exposure", "balance", "hues"]
    values: list[Value] = Field(default_factory=list, max_length=8)
    centre: Annotated[float, Field(ge=0.0, le=360.0, allow_inf_nan=False)] | None = None
