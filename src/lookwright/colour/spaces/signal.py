"""A signal: encoding, primaries and range together, to and from the working domains."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.errors import NameLookupError

from .encodings import Encoding, encoding
from .primaries import Primaries, matrix, primaries
from .ranges import Range, from_full, to_full

SCENE_PRIMARIES = "ACEScg"
DISPLAY_PRIMARIES = "BT.2020"


@dataclass(frozen=True)
class Signal:
    """What a LUT is fed with, or gives."""

    encoding: Encoding
    primaries: Primaries
    range: Range = "full"

    @classmethod
    def named(cls, name: str, primaries_name: str | None = None, range: Range = "full") -> Signal:
        """Look names up; primaries default to those published with the encoding.

        Raises :class:`NameLookupError` for an unknown name, or for a registered curve without one usual set of
        primaries where none were named: its maker's are then listed.
        """
        curve = encoding(name)
        chosen = primaries_name or curve.primaries
        if not chosen:
            raise _unpaired(curve)
        return cls(curve, primaries(chosen), range)

    @property
    def kind(self) -> str:
        """``scene`` or ``display``."""
        return self.encoding.kind

    def describe(self) -> str:
        """Text for headers, cards and captions, e.g. ``BT.1886, BT.709 primaries, full range``."""
        curve = self.encoding.name
        if self.encoding.linear:
            curve += " (linear)"
        return f"{curve}, {self.primaries.name} primaries, {self.range} range"

    def decode(self, signal: ArrayLike) -> Array:
        """Code values (..., 3) to linear light in the signal's own primaries."""
        return self.encoding.decode(to_full(np.asarray(signal, np.float64), self.range))

    def encode(self, linear: ArrayLike) -> Array:
        """The inverse of :meth:`decode`; display encodings clip to what they carry only where they must."""
        return from_full(self.encoding.encode(np.asarray(linear, np.float64)), self.range)

    def to_scene(self, signal: ArrayLike) -> Array:
        """Code values to linear ACEScg (scene kinds)."""
        self._must_be("scene")
        return self.decode(signal) @ matrix(self.primaries.name, SCENE_PRIMARIES).T

    def from_scene(self, scene: ArrayLike) -> Array:
        """Linear ACEScg to code values (scene kinds)."""
        self._must_be("scene")
        return self.encode(np.asarray(scene) @ matrix(SCENE_PRIMARIES, self.primaries.name).T)

    def to_light(self, signal: ArrayLike) -> Array:
        """Code values to display light, linear BT.2020, 1 = reference white (display kinds)."""
        self._must_be("display")
        return self.decode(signal) @ matrix(self.primaries.name, DISPLAY_PRIMARIES).T

    def from_light(self, light: ArrayLike) -> Array:
        """Display light to code values (display kinds)."""
        self._must_be("display")
        return self.encode(np.asarray(light) @ matrix(DISPLAY_PRIMARIES, self.primaries.name).T)

    def _must_be(self, kind: str) -> None:
        if self.kind != kind:
            raise NameLookupError("encoding", f"{self.encoding.name!r} carries {self.kind} light, not {kind} light")


def _unpaired(curve: Encoding) -> NameLookupError:
    """No primaries go with the curve by themselves. No example is named: wrong ones give wrong colours."""
    how = "'primaries' in a look, --source-primaries for a command"
    if not curve.gamuts:
        return NameLookupError(
            "primaries", f"none are published with {curve.name!r}", hint=f"name those it was recorded in: {how}"
        )
    return NameLookupError(
        "primaries",
        f"more than one set goes with {curve.name!r}",
        " or ".join(map(repr, curve.gamuts)),
        f"name the one it was recorded in: {how}",
    )
