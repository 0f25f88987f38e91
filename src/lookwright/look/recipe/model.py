"""The recipe as data: source, steps, output."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, SerializeAsAny, field_validator
from pydantic_core import PydanticCustomError

from lookwright.colour.spaces.encodings import encoding
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.ranges import Range
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import NameLookupError
from lookwright.look.steps.base import Step
from lookwright.look.steps.render import Render

from .formats import FORMAT


class SignalText(BaseModel):
    """The ``[source]`` or ``[output]`` table."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    encoding: str = Field(description="published name of the signal encoding; 'lookwright encodings' lists them")
    primaries: str | None = Field(default=None, description="primaries, where not those usual for the encoding")
    range: Range = Field(default="full", description="'full', or 'legal' for 64..940 of 10 bits")

    @field_validator("encoding", "primaries")
    @classmethod
    def _known(cls, value: str | None, info: Any) -> str | None:
        if value is None:
            return None
        try:
            return encoding(value).name if info.field_name == "encoding" else primaries(value).name
        except NameLookupError as exc:
            # The parts are kept so that the reader of the error gets the near matches.
            raise PydanticCustomError("name", "{got}|{hint}", {"got": exc.got, "hint": exc.hint}) from None

    def signal(self) -> Signal:
        """The signal these words name."""
        return Signal.named(self.encoding, self.primaries, self.range)


class Limit(BaseModel):
    """A looser (or tighter) limit for one measure of ``check``, with its reason."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    value: float = Field(description="the limit used instead of the declared one", allow_inf_nan=False, strict=True)
    reason: str = Field(min_length=3, description="why this look may go there; the report shows it")


class Look(BaseModel):
    """A look: what it is fed, its steps in order, and what it gives."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, defer_build=True)

    format: int = Field(
        default=FORMAT, ge=FORMAT, le=FORMAT, strict=True, description="format of the file; without it, 1 is meant"
    )
    title: str = Field(default="", max_length=120, description="shown in LUT headers and on sheets")
    about: str = Field(default="", description="what the look is for")
    strength: float = Field(
        default=1.0,
        ge=0.0,
        le=1.0,
        allow_inf_nan=False,
        strict=True,
        description="1 the look as written, 0 the plain rendering; moves every creative parameter toward neutral",
    )
    source: SignalText = Field(description="the signal the LUT must be fed with")
    output: SignalText = Field(description="the signal the LUT gives")
    steps: tuple[SerializeAsAny[Step], ...] = Field(default=(), alias="step", description="the transforms in order")
    limits: dict[str, Limit] = Field(default_factory=dict, description="own limits for measures of 'check'")

    _folder: Path = PrivateAttr(default_factory=Path)

    @property
    def folder(self) -> Path:
        """Where relative file names in the recipe start."""
        return self._folder

    def with_folder(self, folder: Path) -> Self:
        """The same look, with relative file names starting at ``folder``."""
        copy = self.model_copy()
        copy._folder = folder
        return copy

    def with_strength(self, strength: float) -> Self:
        """The same look at another strength."""
        return self.model_copy(update={"strength": strength})

    def plain(self) -> Self:
        """The same look at strength 0: its plain rendering, the 'before' of every comparison."""
        steps = tuple(form for step in self.steps for form in step.plain_form())
        if self.output.signal().kind == "display" and all(s.domains()[1] != "display" for s in steps):
            steps = (*steps, Render())  # from one display signal to another by a LUT, which is left out
        return self.model_copy(update={"strength": 0.0, "steps": steps})

    def indexed_steps(self) -> Iterator[tuple[int, Step]]:
        """(place in ``steps`` from 0, step moved by ``strength``) of the steps that are on."""
        for index, step in enumerate(self.steps):
            if step.on:
                yield index, step if self.strength == 1.0 else step.scaled(self.strength)

    def effective_steps(self) -> tuple[Step, ...]:
        """The steps that are on, with parameters moved by ``strength``."""
        return tuple(step for _, step in self.indexed_steps())
