"""The report on a lattice: how far it is from the look at colours that neither a fit nor a choice has seen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.lut.lattices.lattice import Lattice
from lookwright.lut.lattices.samples import spread

from .appearance import ToLab
from .content import Content
from .fidelity import CONTENT, Report, judged
from .prior import Prior, draw
from .shares import shared
from .threads import Run

SEED = 0
"""Seed of everything that reports are made of. Fits and choices have seeds from 1."""
CUBE = 30_000
"""Colours of the cube."""
NATURAL = 20_000
"""Colours drawn from the prior."""


def content(stills: Array, prior: Prior | None, cube: Array | None = None) -> dict[str, Array]:
    """Colours to judge at, (M, 3) by name: those of the ``stills`` (stills, M, 3) that are kept for the report, whole
    stills left out, natural colours where there is a ``prior``, and the cube (None: an even spread)."""
    shares = shared(stills)
    sets = {"stills": shares.kept.reshape(-1, 3), "left_out": shares.left_out.reshape(-1, 3)}
    if prior is not None:
        sets["natural"] = draw(prior, NATURAL, SEED)
    sets["cube"] = spread(CUBE, 3, SEED) if cube is None else cube
    return {name: sets[name] for name in CONTENT if name in sets and len(sets[name])}


class Judge:
    """Compares lattices with a look at the same colours.

    Parameters
    ----------
    look, to_lab
        (M, 3) input signal to output signal, and that to CIELAB.
    sets
        :func:`content`.
    run
        How to spread work over threads.
    """

    def __init__(self, look: Callable[[Array], Any], to_lab: ToLab, sets: dict[str, Array], run: Run) -> None:
        self._all = Content(look, to_lab, np.concatenate(list(sets.values())), run)
        ends = np.cumsum([len(points) for points in sets.values()])
        self._parts = {name: slice(end - len(sets[name]), end) for name, end in zip(sets, ends, strict=True)}

    def differences(self, lattice: Lattice) -> Array:
        """(2, M) CIEDE2000 of the trilinear and the tetrahedral lookup."""
        return self._all.differences(lattice)

    def report(self, differences: Array) -> Report:
        """What there is to say of them."""
        return {name: judged(differences[:, part]) for name, part in self._parts.items()}
