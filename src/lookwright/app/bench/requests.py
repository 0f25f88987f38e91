"""What the page may ask, spelled out: anything else is refused before it reaches the work."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Finite = Annotated[float, Field(allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]
Small = Annotated[int, Field(ge=0, le=65535)]
Word = Annotated[str, Field(min_length=1, max_length=80)]


class Asked(BaseModel):
    """Base: unknown keys are refused, and text is no number."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Value(Asked):
    """A number of a step (``step`` its id), or of the whole look (``step`` null: strength)."""

    step: int | None
    path: list[Annotated[str, Field(max_length=40)] | Small] = Field(default_factory=list, max_length=4)
    value: Finite


Side = Annotated[str, Field(max_length=60, pattern=r"^[a-z]+(:[0-9a-z]+)?$")]
"""What is shown, as :class:`~lookwright.app.bench.sides.Sides` names it."""


class View(Asked):
    """A region of a still at the size it is shown."""

    still: Small
    x: Small
    y: Small
    w: Small
    h: Small
    width: Small
    height: Small
    side: Side = "now"


class Preview(Asked):
    """Lattice of a slider on its way; with ``views`` only what they read of it is of the new look. With ``still`` its
    marks are measured."""

    changes: list[Value] = Field(max_length=64)
    size: Annotated[int, Field(ge=2, le=33)] | None = None
    views: list[View] = Field(default_factory=list, max_length=9)
    still: Small | None = None


class Words(Asked):
    """The steps that a slider on its way changes, in words."""

    changes: list[Value] = Field(max_length=64)


class Lattice(Asked):
    """Lattice of the recipe as it stands."""

    side: Literal["now", "plain"] = "now"


class Edit(Asked):
    """One edit of the recipe."""

    do: Literal["set", "on", "lock", "add", "remove", "move", "band", "unband"]
    step: int | None = None
    changes: list[Value] = Field(default_factory=list, max_length=64)
    on: bool = True
    lock: bool | list[Annotated[str, Field(max_length=80)]] = False
    kind: Annotated[str, Field(max_length=40)] = ""
    index: Small = 0
    centre: Annotated[float, Field(ge=0.0, le=360.0, allow_inf_nan=False)] = 0.0


class OneMark(Asked):
    """One mark as drawn."""

    name: Word
    box: Annotated[list[Share], Field(min_length=4, max_length=4)]
    level: Annotated[float, Field(ge=0.0, le=100.0, allow_inf_nan=False)] | None = None
    role: Word | None = None


class Marks(Asked):
    """The marks of a still; ``keep`` false only measures them."""

    still: Small
    marks: list[OneMark] = Field(max_length=64)
    keep: bool = True


class Save(Asked):
    """Write to disk; ``overwrite`` after the user was warned."""

    overwrite: bool = False


class Unsaved(Asked):
    """What becomes of the unsaved work of an earlier session."""

    do: Literal["take", "drop", "later"]


class Tune(Asked):
    """Goals of a tuning."""

    levels: bool = False
    reference: bool = False
    separation: Annotated[float, Field(ge=0.0, le=180.0, allow_inf_nan=False)] | None = None


class Chosen(Asked):
    """Which numbers of a tuning are wanted, by their places in its list."""

    chosen: list[Small] = Field(max_length=2000)


class KeepVersion(Asked):
    """A version of the recipe as it stands."""

    name: Annotated[str, Field(max_length=80)] = ""


class OneVersion(Asked):
    """What becomes of a version."""

    id: Annotated[str, Field(pattern=r"^[0-9a-f]{1,32}$")]
    do: Literal["rename", "drop", "take"]
    name: Annotated[str, Field(max_length=80)] = ""


class Guest(Asked):
    """Another look, to compare with: the text of its file."""

    name: Word
    text: Annotated[str, Field(max_length=200_000)]


class Reference(Asked):
    """A finished picture at the size it is shown."""

    index: Small
    width: Annotated[int, Field(ge=1, le=4096)]
    height: Annotated[int, Field(ge=1, le=4096)]


class SaveAs(Asked):
    """The recipe under another name, beside its file."""

    name: Word


class Go(Asked):
    """To a place in the history."""

    place: Annotated[int, Field(ge=0, le=10_000)]


class Deliver(Asked):
    """How to deliver."""

    plain_sampling: bool = False


class Nothing(Asked):
    """An empty object."""
