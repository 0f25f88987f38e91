"""One declaration per parameter.

A parameter says its default, bounds, neutral value, unit and meaning once.
Validation, help, the JSON schema, ``strength``, the tuner's bounds and sliders
all read this declaration; there is no second list.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import ValidationInfo

_KEY = "lookwright"

ActsOn = Literal["", "level", "slope"]
"""``level``: where middle grey lands. ``slope``: how steep the scale is about it."""

Paint = Literal["", "hue"]
"""``hue``: an Oklab hue in degrees, so that a ruler can be painted with the colours it stands for."""


@dataclass(frozen=True)
class ParamInfo:
    """What is declared of one numeric parameter (or of each component of a triple)."""

    low: float
    high: float
    neutral: float | None
    """The value that does nothing; None for a parameter that only shapes another (pivot, width)."""
    unit: str
    help: str
    soft_low: float
    soft_high: float
    """The range a slider or the tuner starts with; always inside low..high."""
    scale: Literal["linear", "log"]
    tunable: bool
    source: str
    acts_on: ActsOn = ""
    """What of the whole scale of greys it sets. Of parameters that share this tuning moves one."""
    main: bool = False
    """Whether a hand reaches for it first; the others stand under "finer"."""
    paint: Paint = ""
    """What its values look like."""

    def bounds(self) -> str:
        """Bounds with the unit, for messages and help."""
        return f"{self.low:g} to {self.high:g}" + (f" {self.unit}" if self.unit else "")

    def toward_neutral(self, value: float, strength: float) -> float:
        """``value`` moved so that strength 1 keeps it and strength 0 gives the neutral value."""
        if self.neutral is None:
            return value
        if self.scale == "log" and value > 0 and self.neutral > 0:
            return self.neutral * (value / self.neutral) ** strength
        return self.neutral + (value - self.neutral) * strength


def Param(  # reads as a type in the declarations, as pydantic's Field does
    default: Any,
    *,
    low: float,
    high: float,
    neutral: float | None,
    help: str,
    unit: str = "",
    soft: tuple[float, float] | None = None,
    scale: Literal["linear", "log"] = "linear",
    tunable: bool = True,
    source: str = "",
    acts_on: ActsOn = "",
    main: bool = False,
    paint: Paint = "",
) -> Any:
    """Declare a parameter; see :class:`ParamInfo` for the meaning of each word."""
    soft_low, soft_high = soft or (low, high)
    info = ParamInfo(low, high, neutral, unit, help, soft_low, soft_high, scale, tunable, source, acts_on, main, paint)
    limits: dict[str, Any] = {"minimum": low, "maximum": high}
    schema: dict[str, Any] = {"items": {"type": "number", **limits}} if isinstance(default, tuple) else limits
    if neutral is not None:
        schema["x-neutral"] = neutral
    if unit:
        schema["x-unit"] = unit
    field: FieldInfo = Field(default=default, description=help, json_schema_extra=schema)
    field.metadata.append(info)
    return field


def info_of(field: FieldInfo) -> ParamInfo | None:
    """The declaration behind a model field, or None for a field that is not a parameter."""
    return next((m for m in field.metadata if isinstance(m, ParamInfo)), None)


Triple = tuple[float, float, float]


class Declared(BaseModel):
    """A frozen group of parameters; the base of every step and of every nested group."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=True, validate_default=True, defer_build=True
    )

    @field_validator("*", mode="before")
    @classmethod
    def _numbers_only(cls, value: Any, info: ValidationInfo) -> Any:
        declared = info_of(cls.model_fields[info.field_name or ""])
        if declared is None:
            return value
        items = value if isinstance(value, (list, tuple)) else [value]
        if any(isinstance(v, bool) or not isinstance(v, (int, float)) for v in items):
            raise PydanticCustomError("bounds", "a number, " + declared.bounds().replace("{", "{{"))
        return value

    @field_validator("*", mode="after")
    @classmethod
    def _inside_bounds(cls, value: Any, info: ValidationInfo) -> Any:
        declared = info_of(cls.model_fields[info.field_name or ""])
        if declared is None:
            return value
        items = value if isinstance(value, tuple) else [value]
        if any(not math.isfinite(v) or not declared.low <= v <= declared.high for v in items):
            raise PydanticCustomError("bounds", declared.bounds().replace("{", "{{"))
        return value

    @classmethod
    def parameters(cls) -> Iterator[tuple[str, FieldInfo, ParamInfo]]:
        """(name, field, declaration) of each own parameter, in order."""
        for name, field in cls.model_fields.items():
            declared = info_of(field)
            if declared is not None:
                yield name, field, declared

    def scaled(self, strength: float) -> Self:
        """The same group with every creative parameter moved toward its neutral value."""
        changes: dict[str, Any] = {}
        for name, field in type(self).model_fields.items():
            value, declared = getattr(self, name), info_of(field)
            if declared is not None:
                if isinstance(value, tuple):
                    changes[name] = tuple(declared.toward_neutral(v, strength) for v in value)
                else:
                    changes[name] = declared.toward_neutral(value, strength)
            elif isinstance(value, Declared):
                changes[name] = value.scaled(strength)
            elif isinstance(value, tuple) and any(isinstance(v, Declared) for v in value):
                changes[name] = tuple(v.scaled(strength) for v in value)
        return self.model_copy(update=changes)

    def is_neutral(self) -> bool:
        """Whether every parameter that has a neutral value sits at it."""
        for name, field in type(self).model_fields.items():
            value, declared = getattr(self, name), info_of(field)
            if declared is not None and declared.neutral is not None:
                items = value if isinstance(value, tuple) else (value,)
                if any(v != declared.neutral for v in items):
                    return False
            elif isinstance(value, Declared):
                if not value.is_neutral():
                    return False
            elif isinstance(value, tuple) and any(isinstance(v, Declared) and not v.is_neutral() for v in value):
                return False
        return True
