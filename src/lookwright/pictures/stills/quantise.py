"""Signal to codes: the nearest, ties up, as exact arithmetic gives it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

VALUES = 1 << 17
"""Numbers to be quantised at once: what stands between then stays in the cache (measured, 2^15 to 2^18 alike)."""


def quantise(values: NDArray[Any], bits: int, out: NDArray[Any], cut: bool = True) -> None:
    """Write the nearest code of 0 to 2^bits - 1 for each of ``values`` into ``out``, of the same shape.

    ``values`` are finite signal, 0 to 1, cut where they are beyond; without ``cut`` none is by more than a thousandth
    of a code. Code k begins at (k - 0.5) / (2^bits - 1). Best given in bands of some :data:`VALUES`.
    """
    most = (1 << bits) - 1
    if bits == 8 and values.dtype == np.float32:
        # In float32 the product is rounded, and the sum. Both are monotonic and keep what float32 can hold, k - 0.5 and
        # k among it: a number on the wrong side has been rounded up to k itself. Only those are looked at again.
        codes = np.multiply(values, np.float32(most))
        np.add(codes, np.float32(0.5), out=codes)
        if cut:
            np.clip(codes, 0, most + 0.5, out=codes)
        np.copyto(out, codes, casting="unsafe")
        doubtful = np.equal(codes, out)
        if doubtful.any():
            out[doubtful] = _exact(values[doubtful], most, cut)
        return
    np.copyto(out, _exact(values, most, cut), casting="unsafe")


def _exact(values: NDArray[Any], most: int, cut: bool) -> NDArray[np.float64]:
    """Codes to be cut to whole numbers. The product of a float32 and a 16-bit number is exact in float64."""
    codes = np.multiply(values, most, dtype=np.float64)
    codes += 0.5
    if cut:
        np.clip(codes, 0, most + 0.5, out=codes)
    return codes
