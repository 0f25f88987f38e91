"""Channels mixed in light."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import Field

from lookwright.arrays import Array

from .base import Context, Domain, Op, Step
from .params import Param, Triple


def _share(of: str, into: str) -> Any:
    return Param(0.0, low=-3.0, high=3.0, neutral=0.0, soft=(-0.5, 0.5), help=f"share of {of} light added to {into}")


class Matrix(Step):
    """Every channel a mixture of all three: other primaries, another white, a turn of all hues."""

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "scene"
    summary: ClassVar[str] = "channels mixed in linear light"

    kind: Literal["matrix"] = "matrix"
    light: Literal["scene", "display"] = Field(
        default="scene", description="which light: of the scene (ACEScg), or behind the rendering (BT.2020)"
    )
    own: Triple = Param(
        (1.0, 1.0, 1.0),
        low=-2.0,
        high=4.0,
        neutral=1.0,
        soft=(0.5, 1.5),
        help="share of its own light in R, G, B",
        main=True,
    )
    red_from_green: float = _share("green", "red")
    red_from_blue: float = _share("blue", "red")
    green_from_red: float = _share("red", "green")
    green_from_blue: float = _share("blue", "green")
    blue_from_red: float = _share("red", "blue")
    blue_from_green: float = _share("green", "blue")

    def domains(self) -> tuple[Domain, Domain]:
        return self.light, self.light

    def rows(self) -> Array:
        """(3, 3): new channels from old ones."""
        return np.array(
            [
                [self.own[0], self.red_from_green, self.red_from_blue],
                [self.green_from_red, self.own[1], self.green_from_blue],
                [self.blue_from_red, self.blue_from_green, self.own[2]],
            ]
        )

    def prepare(self, context: Context) -> Op:
        return Op("matrix", matrix=self.rows())

    def in_words(self) -> str:
        if self.is_neutral():
            return "mixes no channels"
        rows = (
            f"{name} from {' '.join(f'{v:g}' for v in row)}"
            for name, row in zip(("red", "green", "blue"), self.rows(), strict=True)
        )
        return f"mixes the channels of {self.light} light: " + ", ".join(rows)
