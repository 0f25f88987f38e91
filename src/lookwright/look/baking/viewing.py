"""A look made visible: what previews are graded with."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Pixels
from lookwright.look.recipe.model import Look, SignalText
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.steps import registry
from lookwright.lut.formats.read import LutFile
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.interpolate import Interpolation
from lookwright.lut.lattices.lattice import Lattice
from lookwright.pictures.stills.quantise import quantise

from .bake import bake
from .exact import Exact
from .foreign import direct_file

RENDERING_SIZE = 65
"""Points a side of the plain rendering behind a foreign log to log LUT, for moving pictures."""

Grade = Callable[..., Any]
"""Takes pixels, ``no_nan`` and ``out``, as an ``Applier`` does."""


class View:
    """A look compiled for looking at, graded and plain: through lattices as they would be delivered.

    A look that is nothing but a LUT file is that file, as OpenColorIO applies it whole: no lattice of ours between.

    A look that ends in scene light (log to log) is shown through the plain rendering to BT.1886, since a log
    picture cannot be judged by eye; ``note`` says so. Behind a LUT file that rendering is exact too; it does a
    megapixel a second, so for ``moving`` pictures it goes through a lattice of 65 points.

    ``lattice`` is the look baked at ``size``, where that is at hand.
    """

    def __init__(
        self,
        look: Look,
        size: int = 33,
        interpolation: str = "tetrahedral",
        threads: int | None = None,
        moving: bool = False,
        lattice: Lattice | None = None,
    ) -> None:
        self.note = ""
        self._baked = lattice
        self._before_rendering: tuple[LutFile, Interpolation] | None = None
        if look.output.signal().kind == "scene":
            known = registry()
            compile_look(look)  # faults in the look itself are reported as the user wrote it
            self._before_rendering = direct_file(look)
            self._rendering = look.model_copy(
                update={
                    "source": look.output,
                    "steps": (known["render"](kind="render"),),
                    "output": SignalText(encoding="BT.1886"),
                }
            )
            steps = (*look.steps, known["render"](kind="render"))
            look = look.model_copy(update={"steps": steps, "output": SignalText(encoding="BT.1886")})
            self._baked = None  # what is looked at is not what was baked
            self.note = "log look, shown through the plain rendering"
            if self._before_rendering and moving:
                self.note += f" on {RENDERING_SIZE} points"
        self.look = look
        self.size = size
        self.interpolation = interpolation
        self.threads = threads
        self.moving = moving
        self.pipeline = compile_look(look)
        self.output = self.pipeline.output

    def _lattice(self, look: Look) -> Lattice:
        at_hand = self._baked if look is self.look else None
        baked = at_hand or bake(compile_look(look), self.size)
        # Six decimals, as in the .cube that is delivered: what is seen is what is sent.
        return Lattice(np.round(baked.table, 6))

    @cached_property
    def _digests(self) -> dict[str, bytes]:
        return {}

    @cached_property
    def _ready(self) -> dict[bool, str]:
        return {}

    @cached_property
    def _appliers(self) -> dict[str, Grade]:
        return {}

    def _applier(self, which: str) -> Grade:
        if which not in self._appliers:
            self._appliers[which], self._digests[which] = self._made(which)
        return self._appliers[which]

    def _made(self, which: str) -> tuple[Grade, bytes]:
        """What grades pictures, and what tells it from others."""
        look = self.look if which == "graded" else self.look.plain()
        if self._before_rendering is not None:
            return self._rendered(which, look)
        direct = self._direct(look)
        if direct is not None:
            file, interpolation = direct
            return Applier(file, interpolation, self.threads), file.digest + interpolation.encode()
        lattice = self._lattice(look)
        return Applier(lattice, self.interpolation, self.threads), lattice.table.tobytes()

    def _direct(self, look: Look) -> tuple[LutFile, Interpolation] | None:
        return direct_file(look)

    def _rendered(self, which: str, look: Look) -> tuple[Grade, bytes]:
        """A log to log file, or nothing, and the plain rendering behind it."""
        assert self._before_rendering is not None
        file, interpolation = self._before_rendering
        rendering = compile_look(self._rendering if which == "graded" else look)
        shown: Grade = Exact(rendering.run, self.threads)
        if self.moving:
            shown = Applier(bake(rendering, RENDERING_SIZE), self.interpolation, self.threads)
        if which == "plain":
            return shown, b"plain"
        first = Applier(file, interpolation, self.threads)

        def graded(pixels: Pixels, no_nan: bool, out: Pixels | None) -> Pixels:
            log = first(pixels, no_nan, out)
            return np.asarray(shown(log, True, log), np.float32)

        return graded, file.digest + interpolation.encode() + repr(self._rendering.source).encode()

    def ready(self, plain: bool = False) -> str:
        """Make now what will be needed, and return a digest of it: equal digests give equal pictures."""
        if plain not in self._ready:  # asked for each of many stills
            digest = hashlib.sha256(self.interpolation.encode())
            for which in ("graded", "plain") if plain else ("graded",):
                self._applier(which)
                digest.update(self._digests[which])
            self._ready[plain] = digest.hexdigest()
        return self._ready[plain]

    def digest(self, plain: bool = False) -> bytes:
        """What tells this grade, or this plain rendering, from others."""
        which = "plain" if plain else "graded"
        self._applier(which)
        return self._digests[which]

    def graded(self, signal: Pixels, no_nan: bool = False, out: Pixels | None = None) -> Pixels:
        """Source signal (H, W, 3) to the graded output signal, float32.

        ``no_nan`` saves the search for NaN, of which a still that was read has none. ``out`` is written to and given
        back; ``signal`` itself may be it.
        """
        return np.asarray(self._applier("graded")(signal, no_nan, out), np.float32)

    def graded_codes(self, codes: NDArray[Any]) -> NDArray[np.uint8]:
        """Codes of 8 or 16 bits of the source signal, (H, W, 3), to the nearest 8-bit codes of :meth:`graded`."""
        grade = self._applier("graded")
        if isinstance(grade, Applier):
            return grade.coded(codes)
        made = np.empty(codes.shape, np.uint8)
        pixels = np.divide(codes, np.float32(np.iinfo(codes.dtype).max), dtype=np.float32)
        quantise(np.asarray(grade(pixels, True, pixels), np.float32), 8, made)
        return made

    def graded_rgba(self, signal: Pixels) -> None:
        """The same for (N, 4), contiguous float32 free of NaN, changed where it lies; alpha stays."""
        grade = self._applier("graded")
        if isinstance(grade, Applier):
            grade.apply_inplace_rgba(signal, no_nan=True)
        else:
            signal[..., :3] = grade(np.ascontiguousarray(signal[..., :3]), True, None)

    def transform(self) -> tuple[Any, bool]:
        """OpenColorIO's transform that does what :meth:`graded_rgba` does, and whether all it gives is in 0..1.

        The transform is None where the grade is more than tables.
        """
        grade = self._applier("graded")
        return (grade.transform, grade.within) if isinstance(grade, Applier) else (None, False)

    def plain(self, signal: Pixels, no_nan: bool = False) -> Pixels:
        """Source signal to the plain rendering (the look at strength 0)."""
        return np.asarray(self._applier("plain")(signal, no_nan, None), np.float32)
