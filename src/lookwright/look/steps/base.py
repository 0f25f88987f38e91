"""What every step is: a frozen group of parameters, two domains, and a prepared function."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import Field, field_validator

from lookwright.arrays import Array
from lookwright.colour.spaces.signal import Signal

from .params import Declared

Domain = Literal["scene", "log", "opponent", "display"]
PixelFunction = Callable[[Array], Array]

DOMAIN_WORDS: dict[str, str] = {
    "scene": "scene light",
    "log": "scene light in log",
    "opponent": "opponent scene light",
    "display": "display light",
}


@dataclass(frozen=True)
class Op:
    """One compiled operation: either a (3, 3) matrix or a function of (..., 3) float64 arrays.

    ``inverse`` names the operation that undoes this one, so that pairs can be cancelled.
    """

    name: str
    apply: PixelFunction | None = None
    matrix: Array | None = None
    inverse: str = ""

    def __call__(self, x: Array) -> Array:
        if self.matrix is not None:
            return x @ self.matrix.T
        assert self.apply is not None
        return self.apply(x)


@dataclass(frozen=True)
class Context:
    """What a step may know of the look around it."""

    source: Signal
    output: Signal
    folder: Path = field(default_factory=Path)
    """Where relative file names in the recipe start: the folder of the look file."""


REGISTRY: dict[str, type[Step]] = {}


class Step(Declared):
    """Base of all steps. A subclass declares ``kind`` and its parameters, and prepares its maths."""

    takes: ClassVar[Domain]
    gives: ClassVar[Domain]
    summary: ClassVar[str]
    """One line for help and docs."""
    rendering: ClassVar[bool] = False
    """True for steps that are not the identity at neutral (print, render, gamut)."""
    fits: ClassVar[bool] = False
    """True for steps whose display light already lies within what the output can show."""

    kind: str
    note: str = Field(default="", description="free text for the reader of the recipe")
    on: bool = Field(default=True, description="false leaves the step out, without deleting it")
    lock: bool | tuple[str, ...] = Field(
        default=False, description="true, or names of parameters, that tuning must leave alone"
    )

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        super().__pydantic_init_subclass__(**kwargs)
        field = cls.model_fields.get("kind")
        if field is not None and isinstance(field.default, str):
            REGISTRY[field.default] = cls

    @field_validator("lock")
    @classmethod
    def _known_locks(cls, value: bool | tuple[str, ...]) -> bool | tuple[str, ...]:
        from pydantic_core import PydanticCustomError

        if isinstance(value, tuple):
            for name in value:
                if name.split(".")[0] not in cls.model_fields:
                    raise PydanticCustomError("lock", "names of this step's own parameters")
        return value

    def fed_by(self, source: Signal) -> bool:
        """Whether this step, as the first of a look, takes the display light of ``source`` as it is."""
        return False

    def domains(self) -> tuple[Domain, Domain]:
        """The domain this step takes and the one it gives."""
        return self.takes, self.gives

    def prepare(self, context: Context) -> Op:
        """Do the scalar work once and return the operation on pixels."""
        raise NotImplementedError

    def files(self, context: Context) -> tuple[Any, ...]:
        """What changes when a file that the step reads does; part of the key under which its work is kept."""
        return ()

    def plain_form(self) -> tuple[Step, ...]:
        """The steps that stand here in the plain rendering; strength 0 then brings them to neutral."""
        return (self,)

    def in_words(self) -> str:
        """What this step does with its present values, as one sentence for a filmmaker."""
        raise NotImplementedError


def smoothstep(x: Array) -> Array:
    """0 below 0, 1 above 1, a quintic with two continuous derivatives between (Perlin 2002)."""
    t = np.clip(x, 0.0, 1.0)
    return t * t * t * (t * (t * 6.0 - 15.0) + 10.0)


def in_stops(value: float, sign: Literal["", "+"] = "") -> str:
    """``0.3 stops`` or ``1 stop``; with ``sign`` "+" a plus sign where there is none."""
    return f"{value:{sign}g} stop{'' if abs(value) == 1 else 's'}"
