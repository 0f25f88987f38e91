"""A foreign LUT as one step of a look, with its declared input and output."""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import Field, field_validator, model_validator
from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import ValidationInfo

from lookwright.arrays import Array
from lookwright.colour.spaces.encodings import encoding
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.ranges import Range
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, NameLookupError, RecipeError
from lookwright.lut.formats.naming import split_name

from .base import Context, Domain, Op, Step
from .params import Declared, Param
from .render import Render


class LutSignal(Declared):
    """What the LUT must be fed with, or gives."""

    encoding: str = Field(description="published name of the encoding")
    primaries: str | None = Field(default=None, description="primaries, where not the usual ones")
    range: Range = Field(default="full", description="'full' or 'legal'")

    @field_validator("encoding", "primaries")
    @classmethod
    def _known(cls, value: str | None, info: ValidationInfo) -> str | None:
        if value is None:
            return None
        try:
            return encoding(value).name if info.field_name == "encoding" else primaries(value).name
        except NameLookupError as exc:
            raise PydanticCustomError("name", "{got}", {"got": exc.got, "hint": exc.hint}) from None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        try:
            self.signal()
        except NameLookupError as exc:
            raise PydanticCustomError("name", "{got}", {"got": exc.got, "hint": exc.hint}) from None
        return self

    def signal(self) -> Signal:
        """The signal these words name."""
        return Signal.named(self.encoding, self.primaries, self.range)


class Lut(Step):
    """Sends the light through a LUT file. A LUT fed with the wrong signal is the commonest fault there is, so
    what it takes and gives must be declared; conversions to and from it are made here."""

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "scene"
    summary: ClassVar[str] = "a foreign LUT file, with what it takes and gives declared"

    kind: Literal["lut"] = "lut"
    file: str = Field(
        min_length=1, description="the file, relative to the look; FILE:ID for one correction of a .ccc or .cdl"
    )
    input: LutSignal = Field(description="what the LUT takes")
    output: LutSignal = Field(description="what the LUT gives")
    interpolation: Literal["tetrahedral", "trilinear"] = Field(default="tetrahedral", description="between points")
    amount: float = Param(
        1.0,
        low=0.0,
        high=1.0,
        neutral=0.0,
        help="share of the LUT's effect; below 1 only where it takes and gives the same signal",
        main=True,
    )

    def domains(self) -> tuple[Domain, Domain]:
        def of(text: LutSignal) -> Domain:
            return "scene" if text.signal().kind == "scene" else "display"

        return of(self.input), of(self.output)

    def fed_by(self, source: Signal) -> bool:
        takes = self.input.signal()
        return source.kind == "display" and (takes.encoding, takes.primaries) == (source.encoding, source.primaries)

    def path(self, folder: Path) -> Path:
        """The file, without the id of a correction; relative names start at ``folder``."""
        return folder / split_name(self.file)[0]

    def files(self, context: Context) -> tuple[Any, ...]:
        try:
            found = self.path(context.folder).stat()
        except OSError:  # said by prepare, with what to do
            return ()
        return found.st_mtime_ns, found.st_size

    def plain_form(self) -> tuple[Step, ...]:
        # A LUT that renders has no neutral: the plain rendering takes its place. One that converts is left out.
        takes, gives = self.input.signal(), self.output.signal()
        if takes == gives or not self.on:
            return (self,)
        if takes.kind == "scene" and gives.kind == "display":
            return (Render(),)
        return ()

    def prepare(self, context: Context) -> Op:
        # Here and not above: a fifth of the time that reading any look takes would go to readers that few looks need.
        from lookwright.lut.formats.read import read_lut

        takes, gives = self.input.signal(), self.output.signal()
        if takes.kind == "display" and gives.kind == "scene":
            raise RecipeError("signals", "turns display light back into scene light", "a LUT the other way round")
        if self.amount < 1.0 and takes != gives:
            raise RecipeError(
                "amount",
                f"cannot be applied at {self.amount:g} of its strength: it takes {takes.encoding.name} and gives "
                f"{gives.encoding.name}",
                hint="a share needs the same signal on both sides; set amount (or the look's strength) to 1",
            )
        try:
            table = read_lut(self.path(context.folder), split_name(self.file)[1])
        except LookwrightError as exc:
            hint = exc.hint
            if "\\" in self.file or not self.file.isprintable():  # \b in "luts\bought.cube" is a control character
                hint = "in a path write / between folders; Windows takes it too"
            raise RecipeError(exc.where, exc.got, exc.expected, hint) from None

        def encode(x: Array) -> Array:
            return takes.from_scene(x) if takes.kind == "scene" else takes.from_light(x)

        def decode(x: Array) -> Array:
            return gives.to_scene(x) if gives.kind == "scene" else gives.to_light(x)

        def apply(x: Array) -> Array:
            signal = encode(x)
            out = table(signal, self.interpolation)
            if self.amount < 1.0:
                out = signal + self.amount * (np.asarray(out) - signal)
            return decode(out)

        return Op("lut", apply)

    def in_words(self) -> str:
        share = "" if self.amount == 1 else f" at {self.amount * 100:.0f} %"
        return f"sends {self.input.encoding} through {self.file}{share}, giving {self.output.encoding}"
