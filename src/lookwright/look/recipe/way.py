"""The way of colours through a look: what light they are behind each step, and how each step is seen to change them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.look.steps.base import Domain

from .codes import checked
from .model import Look
from .pipeline import HELD, conversion, route
from .so_far import so_far
from .staged import Staged, through


@dataclass(frozen=True)
class Station:
    """Colours behind one step."""

    step: int | None
    """Place in ``look.steps``, from 0; None for the source as it is decoded."""
    kind: Literal["scene", "display"]
    """Whether ``light`` is linear ACEScg, or linear BT.2020 of the display with 1 at reference white."""
    light: Array
    """(n, 3)."""
    shown: Array
    """(n, 3) output signal of the look up to here, plainly rendered behind it."""


def way(look: Look, signal: Array) -> list[Station]:
    """The stations of source code values (n, 3): the source, then each step that is on.

    The last ``shown`` is what ``compile_look(look)`` gives. Raises :class:`~lookwright.errors.LookwrightError` as that
    does.
    """
    signal = checked(signal, look.source.signal())
    found = []
    for index, domain, x in _stops(look, signal):
        count = 0 if index is None else index + 1
        shown = through(Staged().parts(so_far(look, count)), signal)
        if domain == "display":
            found.append(Station(index, "display", x, shown))
            continue
        scene = x
        for op in conversion(domain, "scene"):
            scene = op(scene)
        found.append(Station(index, "scene", scene, shown))
    return found


def before(look: Look, index: int, signal: Array) -> Array:
    """Source code values (n, 3) as the step at ``index`` takes them, in its own domain.

    Raises :class:`IndexError` where that step is off or there is none.
    """
    reached = _stops(look, np.asarray(signal, np.float64))
    for leg in route(look)[1:-1]:
        _, _, x = next(reached)
        if leg.index == index:
            for op in leg.before:
                x = op(x)
            return x
    raise IndexError(index)


def _stops(look: Look, x: Array) -> Iterator[tuple[int | None, Domain, Array]]:
    """Where a colour is behind decoding and behind each step that is on: the step's place, the domain, the values.

    Steps are prepared once a value, as the path that is shown has them (:class:`Staged`).
    """
    parts = iter(Staged().parts(look))
    x = through([next(parts)], x)
    yield None, _fed(look), x
    for leg in route(look)[1:-1]:
        assert leg.step is not None
        if not leg.needless:
            x = through([next(parts)], x)
        yield leg.index, leg.step.domains()[1], x


def ends(look: Look, signal: Array) -> tuple[Array, Array]:
    """Source code values (n, 3) to light and to output signal.

    The light is linear, in the output's primaries, as the steps leave it before it is held within the output. Display
    outputs only: raises :class:`ValueError` for one that carries scene light.
    """
    *parts, end = Staged().parts(look)
    x = through(parts, np.asarray(signal, np.float64))
    light: Array | None = None
    for op in end.ops:
        if op.name == HELD:
            light = x
        x = op(x)
    if light is None:
        raise ValueError("the output carries scene light")
    return light, x


def beyond(light: Array, look: Look, tolerance: float = 1e-3) -> NDArray[np.bool_]:
    """(n,) where light (n, 3) of :func:`ends` would be cut by the output.

    ``tolerance`` is in light of reference white: what lies less outside is rounding, or below a code of 10 bits.
    """
    peak = look.output.signal().encoding.peak
    return np.asarray(((light < -tolerance) | (light > peak + tolerance)).any(axis=-1))


def _fed(look: Look) -> Domain:
    """The domain behind decoding: display light where the first step takes the source as it is."""
    source = look.source.signal()
    first = next((s for _, s in look.indexed_steps()), None)
    return "display" if first is not None and first.fed_by(source) else "scene"
