"""How far a 33-point lattice is from a rendering."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lookwright.colour.difference import ciede2000, xyz_to_lab
from lookwright.colour.spaces.primaries import matrix, primaries
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice

Array = NDArray[np.float64]


def _encoded(light: Array) -> Array:
    """BT.1886 signal of BT.2020 light."""
    out = np.clip(light @ matrix("BT.2020", "BT.709").T, 0.0, 1.0)
    out[out < 1e-12] = 0.0
    return out ** (1 / 2.4)


def _lab(signal: Array) -> Array:
    return xyz_to_lab(np.clip(signal, 0.0, 1.0) ** 2.4 @ primaries("BT.709").to_xyz.T)


def lattice_errors(render: Callable[[Array], Array], source: str, scene: Array, size: int = 33) -> tuple[float, float]:
    """Mean CIEDE2000 of trilinear and tetrahedral lookups, at scene light (n, 3) ACEScg that a source carries."""
    fed = Signal.named(source)
    g = np.linspace(0.0, 1.0, size)
    cube = np.stack(np.meshgrid(g, g, g, indexing="ij"), -1).reshape(-1, 3)
    lattice = Lattice(_encoded(render(fed.to_scene(cube))).reshape(size, size, size, 3))
    signal = np.clip(fed.from_scene(scene), 0.0, 1.0)
    exact = _lab(_encoded(render(fed.to_scene(signal))))
    trilinear, tetrahedral = (
        float(ciede2000(exact, _lab(lookup(lattice, signal, kind))).mean()) for kind in ("trilinear", "tetrahedral")
    )
    return trilinear, tetrahedral
