"""Values as a person would write them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lookwright.arrays import Array

from .free import Free

MOVED = 0.001
"""Share of its usual range by which a parameter must have moved to be written."""
AT_BOUND = 0.002
"""Share of its usual range from a bound within which a parameter is on it."""


def rounded(free: Sequence[Free], z: Array, more: int = 0) -> Array:
    """z (n,) on a bound when next to it, at its start when hardly moved, and with no more digits than matter.

    ``more`` digits than that are kept where asked for. Solutions that differ by less than the rounding, as those of two
    releases of numpy do, become the same.
    """
    out = z.copy()
    near = 0.1**more
    for i, f in enumerate(free):
        if abs(z[i]) < MOVED * near:
            out[i] = 0.0
            continue
        for bound in f.bounds_z():
            if abs(z[i] - bound) < AT_BOUND * near:
                out[i] = bound
        out[i] = f.z(readable(f, f.value(float(out[i])), more))
    return out


def readable(f: Free, value: float, more: int = 0) -> float:
    """``value`` to a five-thousandth of the usual range and ``more`` digits, never outside the bounds."""
    step = (f.info.soft_high - f.info.soft_low) / 5000.0
    if step <= 0:
        return value
    digits = max(0, int(np.ceil(-np.log10(step)))) + more
    return min(max(round(value, digits), f.low), f.high)
