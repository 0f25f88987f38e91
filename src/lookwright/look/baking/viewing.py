"""A look made visible: the lattice that previews are graded with."""

from __future__ import annotations

import hashlib
from functools import cached_property
from typing import Any

import numpy as np

from lookwright.arrays import Pixels
from lookwright.look.recipe.model import Look, SignalText
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.steps import registry
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.lattice import Lattice

from .bake import bake
from .foreign import direct_lattice


class View:
    """A look compiled for looking at: graded and plain, through lattices as they would be delivered.

    A look that ends in scene light (log to log) is shown through the plain rendering to BT.1886, since a log
    picture cannot be judged by eye; ``note`` says so.
    """

    def __init__(
        self, look: Look, size: int = 33, interpolation: str = "tetrahedral", threads: int | None = None
    ) -> None:
        self.note = ""
        if look.output.signal().kind == "scene":
            known = registry()
            compile_look(look)  # faults in the look itself are reported as the user wrote it
            steps = (*look.steps, known["render"](kind="render"))
            look = look.model_copy(update={"steps": steps, "output": SignalText(encoding="BT.1886")})
            self.note = "log look, shown through the plain rendering"
        self.look = look
        self.size = size
        self.interpolation = interpolation
        self.threads = threads
        self.pipeline = compile_look(look)
        self.output = self.pipeline.output

    def _lattice(self, look: Look) -> Lattice:
        direct = direct_lattice(look)
        if direct is not None:
            return direct
        baked = bake(compile_look(look), self.size)
        # Six decimals, as in the .cube that is delivered: what is seen is what is sent.
        return Lattice(np.round(baked.table, 6))

    @cached_property
    def _lattices(self) -> dict[str, Lattice]:
        return {}

    def _applier(self, which: str) -> Any:
        if which not in self._appliers:
            lattice = self._lattice(self.look if which == "graded" else self.look.plain())
            self._lattices[which] = lattice
            self._appliers[which] = Applier(lattice, self.interpolation, self.threads)
        return self._appliers[which]

    @cached_property
    def _appliers(self) -> dict[str, Any]:
        return {}

    def ready(self, plain: bool = False) -> str:
        """Bake now what will be needed, and return a digest of it: equal digests give equal pictures."""
        digest = hashlib.sha256(self.interpolation.encode())
        for which in ("graded", "plain") if plain else ("graded",):
            self._applier(which)
            digest.update(self._lattices[which].table.tobytes())
        return digest.hexdigest()

    def graded(self, signal: Pixels, no_nan: bool = False, out: Pixels | None = None) -> Pixels:
        """Source signal (H, W, 3) to the graded output signal, float32.

        ``no_nan`` saves the search for NaN, of which a still that was read has none. ``out`` is written to and given
        back; ``signal`` itself may be it.
        """
        return np.asarray(self._applier("graded")(signal, no_nan, out), np.float32)

    def plain(self, signal: Pixels, no_nan: bool = False) -> Pixels:
        """Source signal to the plain rendering (the look at strength 0)."""
        return np.asarray(self._applier("plain")(signal, no_nan), np.float32)
